import type { Instant } from '../../shared/base/instant.ts';
import {
  fitSource,
  hull,
  recordedSource,
  USUAL_RANGES,
  type FitRanges,
  type SourceFit,
} from '../../shared/power/source-fit.ts';
import {
  dropOutAt,
  predictOnGenerator,
  predictTogether,
  type GeneratorSource,
  type StartPrediction,
} from '../../shared/power/start-prediction.ts';
import { magnitude, transformerImpedance } from '../../shared/power/starting-dip.ts';
import type { Panel, Point, Unit } from '../../shared/telemetry/site.ts';
import { predictionText, SUPPLY_CAUTIONS } from '../../shared/wire/starting-dips-sentences.ts';
import type {
  StartingDipsAnswer,
  StartPredictionAnswer,
  StartSeen,
} from '../../shared/wire/starting-dips-answer.ts';
import { levelSentences } from '../../shared/wire/voltage-level-sentences.ts';
import { wireInstant, wireSpan } from '../../shared/wire/standing-wire.ts';
import type { PanelStart, PanelStarts } from './read-starting-dips.ts';
import { motorOf } from './motors.ts';
import { factsOf, type UnitFacts } from './unit-facts.ts';

/** What is said of the starts on a panel: the fit, the predictions against each unit's drop-out, each unit's grace. */
export interface DipsAsked {
  readonly site: string;
  readonly panel: Panel;
  readonly units: readonly Unit[];
  readonly stretch: { readonly from: Instant; readonly to: Instant };
  readonly generator: GeneratorSource | null;
  readonly now: Instant;
}

export function answerStartingDips(asked: DipsAsked, found: PanelStarts): StartingDipsAnswer {
  const { panel, units, stretch, now } = asked;
  const ranges = rangesOf(panel);
  const motors = units.map((unit) => motorOf(unit, panel));
  const fitted = fitSource(fittable(found), motors, ranges);
  const recorded = recordedOhms(panel);
  const source =
    fitted ?? (recorded === null ? null : recordedSource(recorded, panel.nominalVoltage, ranges));
  const facts = units.map((unit) => factsOf(unit, panel, found));
  const predictions = predictionsOf(asked, source, facts);
  return {
    site: asked.site,
    panel: panel.id,
    name: panel.name,
    serverTime: wireInstant(now)!,
    from: wireInstant(stretch.from)!,
    to: wireInstant(stretch.to)!,
    nominalVoltage: panel.nominalVoltage,
    limitVolts: panel.startVoltageLimit * panel.nominalVoltage,
    voltage: voltageOf(found.linePoint),
    level: found.level === null ? [] : levelSentences(found.level, panel.name, panel.nominalVoltage),
    says: firstLine(asked, found, predictions),
    knows: knownOf(asked, found, fitted, recorded),
    source: source === null ? null : sourceAnswer(source, fitted !== null, recorded, panel),
    predictions,
    units: facts.map(({ unit }) => unit),
    starts: found.starts.map(startAnswer).sort((a, b) => (a.at.latest < b.at.latest ? 1 : -1)),
    cautions: [...SUPPLY_CAUTIONS],
  };
}

const fittable = ({ starts }: PanelStarts) =>
  starts.flatMap(({ unit, seen, beside }) =>
    seen.kind === 'seen' && beside === 'alone'
      ? [{ unit: unit.id, before: seen.before, during: seen.during, within: seen.within }]
      : [],
  );

/** X/R of a recorded transformer; conductors have less, so the range reaches further down [our choice]. */
const rangesOf = ({ supply }: Panel): FitRanges =>
  supply === null
    ? USUAL_RANGES
    : {
        ...USUAL_RANGES,
        reactanceToResistance: [0.4 * supply.reactanceToResistance, 1.2 * supply.reactanceToResistance],
      };

function recordedOhms({ supply, nominalVoltage }: Panel): number | null {
  if (supply === null || supply.kind !== 'transformer') return null;
  const { ratedKva, impedancePercent, reactanceToResistance } = supply;
  return magnitude(
    transformerImpedance({
      volts: nominalVoltage,
      kva: ratedKva,
      percent: impedancePercent,
      reactanceToResistance,
    }),
  );
}

const voltageOf = (point: Point | null): StartingDipsAnswer['voltage'] =>
  point === null
    ? null
    : {
        signal: point.signal,
        everySeconds: point.reporting.mode === 'polled' ? point.reporting.seconds : null,
      };

function sourceAnswer(
  source: SourceFit,
  fitted: boolean,
  recorded: number | null,
  panel: Panel,
): StartingDipsAnswer['source'] {
  const { ohms } = source;
  const k = panel.phases === 3 ? Math.sqrt(3) : 1;
  const amps = (z: number) => panel.nominalVoltage / (k * Math.max(z, 1e-6));
  return {
    by: fitted ? 'starts' : 'record',
    starts: source.starts,
    ohms,
    availableAmps: ohms === null || ohms[0] <= 0 ? null : [amps(ohms[1]), amps(ohms[0])],
    recordedOhms: recorded,
    before: source.before,
  };
}

function predictionsOf(
  asked: DipsAsked,
  source: SourceFit | null,
  facts: readonly UnitFacts[],
): StartPredictionAnswer[] {
  const { panel, units, generator } = asked;
  const motors = units.map((unit) => motorOf(unit, panel));
  const sets = [...pairsOf(motors), ...(motors.length > 2 ? [motors] : [])];
  const answer = (
    supply: 'utility' | 'generator',
    predicted: StartPrediction | null,
  ): StartPredictionAnswer[] =>
    predicted === null ? [] : [predictionAnswer(asked, supply, predicted, facts)];
  const before = source === null ? undefined : hull([source.beforeRange]);
  const utility = sets.map((set) => (source === null ? null : predictTogether(source, set, before)));
  const ranges = rangesOf(panel);
  const onGenerator =
    generator === null
      ? []
      : [...motors.map((motor) => [motor]), ...sets].map((set) =>
          predictOnGenerator(generator, set, panel.nominalVoltage, ranges, panel.phases),
        );
  return [
    ...worstOfEach(utility).flatMap((one) => answer('utility', one)),
    ...worstOfEach(onGenerator).flatMap((one) => answer('generator', one)),
  ];
}

const pairsOf = <T>(all: readonly T[]): T[][] => all.flatMap((a, i) => all.slice(i + 1).map((b) => [a, b]));

/** Of as many starting together, those who pull hardest. */
function worstOfEach(all: readonly (StartPrediction | null)[]): StartPrediction[] {
  const found = new Map<number, StartPrediction>();
  for (const one of all) {
    const known = one && found.get(one.units.length);
    if (one && (!known || one.volts[0] < known.volts[0])) found.set(one.units.length, one);
  }
  return [...found.values()].sort((a, b) => a.units.length - b.units.length);
}

function predictionAnswer(
  asked: DipsAsked,
  supply: 'utility' | 'generator',
  prediction: StartPrediction,
  facts: readonly UnitFacts[],
): StartPredictionAnswer {
  const dropOuts = facts.map(({ unit, dropLine }) => ({
    unit: unit.id,
    name: unit.name,
    verdict: dropLine === null ? null : dropOutAt(prediction.volts, dropLine),
  }));
  const limit = asked.panel.startVoltageLimit * asked.panel.nominalVoltage;
  const [low, high] = prediction.volts;
  return {
    supply,
    units: [...prediction.units],
    volts: prediction.volts,
    dip: prediction.dip,
    dropOuts: dropOuts.map(({ unit, verdict }) => ({ unit, verdict })),
    staysAbove: low >= limit ? 'yes' : high < limit ? 'no' : 'unsure',
    says: predictionText({
      prediction,
      supply,
      panelName: asked.panel.name,
      dropOuts,
      all: prediction.units.length === asked.units.length,
    }),
  };
}

function firstLine(
  { panel, units }: DipsAsked,
  { linePoint, starts }: PanelStarts,
  predictions: readonly StartPredictionAnswer[],
): string {
  const two =
    predictions.find(({ supply, units: { length } }) => supply === 'utility' && length === 2) ??
    predictions[0];
  if (two) return two.says;
  if (units.length < 2)
    return `${panel.name} feeds ${units.length === 1 ? 'one unit' : 'no unit'}: none can start together with another.`;
  if (linePoint === null)
    return `What starts do to ${panel.name} can’t be told: its line voltage isn’t wired.`;
  return starts.length === 0
    ? `What starts do to ${panel.name} can’t be told yet: none was seen in this time, and its supply isn’t recorded.`
    : `What starts together do to ${panel.name} can’t be told: its voltage is read too seldom, and its supply isn’t recorded.`;
}

function knownOf(
  { panel }: DipsAsked,
  { linePoint, starts }: PanelStarts,
  fitted: SourceFit | null,
  recorded: number | null,
): string[] {
  const slow = starts.filter(({ seen }) => seen.kind === 'too-slow');
  const together = starts.filter(({ beside }) => beside === 'together').length;
  const deepest = Math.max(
    0,
    ...slow.flatMap(({ seen }) =>
      seen.kind === 'too-slow' && seen.lowest !== null ? [1 - seen.lowest / seen.before] : [],
    ),
  );
  return [
    ...(linePoint === null ? [`${panel.name} has no line voltage wired, so no start is seen.`] : []),
    ...(slow.length > 0
      ? [
          `${slow.length} of ${starts.length} starts were seen by a voltage read each ${everyOf(slow)} s, which misses or dilutes a dip of less than a second: the deepest reading was ${(100 * deepest).toFixed(1)} % down, so the dip is at least that deep. Report the voltage on change, or take in a recorder’s file of a start.`,
        ]
      : []),
    ...(together > 0
      ? [
          `${together} ${together === 1 ? 'start' : 'starts'} came within 2 s of another and ${together === 1 ? 'isn’t' : 'aren’t'} fitted.`,
        ]
      : []),
    ...(fitted === null && recorded !== null
      ? [
          'No start was seen well enough to fit: this is worked out from the recorded transformer alone, without its conductors, so the dips are at least so deep.',
        ]
      : []),
  ];
}

const everyOf = (slow: readonly PanelStart[]): string => {
  const every = slow.flatMap(({ seen }) =>
    seen.kind === 'too-slow' && Number.isFinite(seen.everySeconds) ? [seen.everySeconds] : [],
  );
  return every.length === 0 ? 'few' : Math.min(...every).toFixed(0);
};

function startAnswer({ event, unit, at, seen, beside }: PanelStart): StartSeen {
  const numbers = (before: number, during: number | null) => ({
    before,
    during,
    dip: during === null ? null : 1 - during / before,
  });
  const none = { before: null, during: null, dip: null };
  const read =
    seen.kind === 'seen'
      ? numbers(seen.before, seen.during)
      : seen.kind === 'too-slow'
        ? numbers(seen.before, seen.lowest)
        : none;
  return {
    event,
    unit: unit.id,
    at: wireSpan(at)!,
    outcome: beside === 'alone' ? seen.kind : beside,
    ...read,
  };
}
