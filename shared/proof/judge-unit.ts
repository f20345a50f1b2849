import { inSeconds, seconds } from '../base/instant.ts';
import { lengthOf } from './lengths.ts';
import type { Panel, Unit } from '../telemetry/site.ts';
import { measuredAs, offDelaysSeen, powerUpDelaysSeen, powerUpSetting, type SeenDelay } from './delays.ts';
import type { Words } from './judge-contact.ts';
import { runsOf } from './judge-contact.ts';
import type { PointRecord } from './point-record.ts';
import type { Responses } from './responses.ts';
import type { Check, Fault, Grade, Measured, ProofItem, Todo } from './session.ts';

/** The unit as a whole: one ordinary call and stop, its off-cycle delay, and one power return (issue 7). */
export interface UnitCase {
  readonly unit: Unit;
  readonly panel: Panel | null;
  readonly responses: Responses;
  readonly words: Words;
  /** of the other units of its panel */
  readonly neighbours: readonly Unit[];
  /** points that a fault names: nothing is measured by them */
  readonly crossed: ReadonlySet<string>;
}

export interface UnitShown {
  readonly items: readonly ProofItem[];
  readonly faults: readonly Fault[];
}

const own = ({ unit, responses }: UnitCase, signal: string): PointRecord | null =>
  responses.record(`${unit.id}/${signal}`);

export function judgeUnit(at: UnitCase): UnitShown {
  const [call, output, voltage] = ['cooling-call', 'compressor-output', 'control-voltage'].map((s) =>
    own(at, s),
  );
  if (!output) return { items: [], faults: [] };
  if ([call, output].some((one) => one && at.crossed.has(one.key)))
    return { items: waiting(at, call !== null, voltage !== null), faults: [] };
  const delay = call ? offDelayItem(at, call, output, voltage ?? null) : null;
  const power = voltage ? powerItem(at, call ?? null, output, voltage) : null;
  return {
    items: [runItem(at, output), ...(delay ? [delay.item] : []), ...(power ? [power] : [])],
    faults: delay?.faults ?? [],
  };
}

/** Nothing is measured by wires that aren’t right. */
function waiting(at: UnitCase, hasCall: boolean, hasVoltage: boolean): ProofItem[] {
  const first: Check = {
    kind: 'moved',
    state: 'not-seen',
    says: 'Its call and its output are put right first.',
    at: null,
  };
  const all = ['run', ...(hasCall ? ['off-delay'] : []), ...(hasVoltage ? ['power-return'] : [])];
  return all.map((what) => ({ ...item(at, what, NAMES[what]!, [first], NOTHING_YET), todo: null }));
}
const NAMES: Readonly<Record<string, string>> = {
  run: 'one ordinary call and stop',
  'off-delay': 'off-cycle delay',
  'power-return': 'one power return',
};
const NOTHING_YET: Todo = { says: '', seconds: 0, qualified: false };

function runItem(at: UnitCase, output: PointRecord): ProofItem {
  const { unit, words } = at;
  const whole = runsOf(output).find(
    ({ from, to }) => from > output.since && output.moves.some(({ earliest }) => earliest === to),
  );
  const check: Check = whole
    ? {
        kind: 'moved',
        state: 'right',
        says: `Ran from ${words.clock(whole.from)} to ${words.clock(whole.to)}, ${lengthOf(inSeconds(whole.to - whole.from))}.`,
        at: whole.to,
      }
    : { kind: 'moved', state: 'not-seen', says: 'No whole run was seen yet.', at: null };
  const wait = unit.protection.offDelay.value;
  return item(at, 'run', NAMES['run']!, [check], {
    says: `Give ${unit.name} a cooling call at its thermostat until it runs, then end it.`,
    seconds: wait + 60,
    qualified: false,
  });
}

function offDelayItem(at: UnitCase, call: PointRecord, output: PointRecord, voltage: PointRecord | null) {
  const { unit } = at;
  const { offDelay } = unit.protection;
  const measured = measure('off-delay', offDelaysSeen(call, output, voltage), offDelay, unit);
  const todo = {
    says: `While ${unit.name} runs, end its call and call again at once: it must wait about ${lengthOf(offDelay.value)}.`,
    seconds: offDelay.value + 30,
    qualified: false,
  };
  const made = item(
    at,
    'off-delay',
    NAMES['off-delay']!,
    [delayCheck(measured, at)],
    todo,
    measured?.value ?? null,
  );
  return { item: made, faults: measured ? settingFaults(at, made, measured.value) : [] };
}

interface MeasuredAt {
  readonly value: Measured;
  readonly seen: SeenDelay;
}

/** The narrowest that was seen. */
function measure(
  what: Measured['what'],
  seen: readonly SeenDelay[],
  setting: Parameters<typeof measuredAs>[2],
  { protection }: Unit,
): MeasuredAt | null {
  const width = ({ seconds: [low, high] }: SeenDelay): number => high - low;
  const best = seen.toSorted((a, b) => width(a) - width(b) || a.at.latest - b.at.latest)[0];
  return best ? { value: measuredAs(what, best.seconds, setting, protection), seen: best } : null;
}

function delayCheck(measured: MeasuredAt | null, { words }: UnitCase): Check {
  if (!measured) return { kind: 'delay', state: 'not-seen', says: 'Not measured yet.', at: null };
  const { value, seen } = measured;
  const isWrong = value.isOff && value.known === 'recorded';
  return {
    kind: 'delay',
    state: isWrong ? 'wrong' : 'right',
    says: `Measured ${measuredText(value)} at ${words.clock(seen.at.latest)}; ${value.known} ${lengthOf(value.setting)}.`,
    at: seen.at.latest,
  };
}

export function measuredText({ seconds: [low, high] }: Measured): string {
  const [from, to] = [lengthOf(low), lengthOf(high)];
  return from === to ? to : `${from}–${to}`;
}

function settingFaults({ unit, words }: UnitCase, { key }: ProofItem, measured: Measured): Fault[] {
  if (!measured.isOff && measured.known === 'recorded') return [];
  if (!measured.isOff) return [];
  const middle = Math.round((measured.seconds[0] + measured.seconds[1]) / 2 / 5) * 5;
  const isRecordable = middle >= 30 && middle <= 300;
  return [
    {
      key: `setting:${unit.id}`,
      kind: 'setting',
      on: [key],
      says: `The off-cycle delay of ${unit.name} isn’t as ${measured.known}: measured ${measuredText(measured)}, ${measured.known} ${lengthOf(measured.setting)}.`,
      because: [
        `Measured from a stop to the start that its call waited for, ${words.point(`${unit.id}/compressor-output`)}.`,
      ],
      correction: isRecordable ? { kind: 'off-delay', unit: unit.id, seconds: middle } : null,
    },
  ];
}

function powerItem(
  at: UnitCase,
  call: PointRecord | null,
  output: PointRecord,
  voltage: PointRecord,
): ProofItem {
  const { unit } = at;
  const setting = powerUpSetting(unit.protection);
  const measured = measure('power-up-delay', powerUpDelaysSeen(call, output, voltage), setting, unit);
  const spacing = measured ? spacingOf(at, measured.seen) : null;
  // a power-up delay that is off shows in its setting’s own event; the wiring is proven all the same
  const check = delayCheck(measured, at);
  const checks: Check[] = [
    { ...check, state: check.state === 'wrong' ? 'right' : check.state },
    ...(spacing ? [spacing] : []),
  ];
  const todo: Todo = {
    says: `Qualified people only: with ${unit.name} called, open its disconnect and close it again, under the unit’s own instructions. It starts by itself after about ${lengthOf(setting.value)}.`,
    seconds: setting.value + 120,
    qualified: true,
  };
  return item(at, 'power-return', NAMES['power-return']!, checks, todo, measured?.value ?? null);
}

/** Starts of the panel’s other units that came with this one’s, and how far apart. */
function spacingOf({ panel, neighbours, responses, words }: UnitCase, seen: SeenDelay): Check | null {
  const near = neighbours.flatMap(({ id, name }) => {
    const starts = runsOf(responses.record(`${id}/compressor-output`) ?? EMPTY).map(({ from }) => from);
    return starts
      .filter((from) => Math.abs(from - seen.at.latest) <= seconds(120))
      .map((from) => ({ name, apart: inSeconds(Math.abs(from - seen.at.latest)) }));
  });
  const least = near.toSorted((a, b) => a.apart - b.apart)[0];
  if (!least || !panel) return null;
  const isApart = least.apart >= panel.minimumStartSeparationSeconds;
  const says = `Started ${lengthOf(least.apart)} from ${least.name} (${words.clock(seen.at.latest)}); ${panel.name} wants ${lengthOf(panel.minimumStartSeparationSeconds)}.`;
  return { kind: 'spacing', state: isApart ? 'right' : 'not-seen', says, at: seen.at.latest };
}

const EMPTY: PointRecord = {
  key: '',
  point: {} as PointRecord['point'],
  since: 0,
  values: [],
  moves: [],
  rest: null,
  knownThrough: null,
  longestBounceSeconds: 0,
};

function item(
  { unit }: UnitCase,
  what: string,
  name: string,
  checks: readonly Check[],
  todo: Todo,
  measured: Measured | null = null,
): ProofItem {
  const grade = gradeOf(checks);
  return {
    key: `unit:${unit.id}/${what}`,
    device: unit.id,
    name,
    grade,
    checks,
    at: grade === 'proven' ? checks[0]!.at : null,
    todo: grade === 'not-yet' ? todo : null,
    measured,
  };
}

/** The first of them is what the item is; all that are wrong count. */
const gradeOf = (checks: readonly Check[]): Grade => {
  if (checks.some(({ state }) => state === 'wrong')) return 'contradicted';
  return checks[0]?.state === 'right' ? 'proven' : 'not-yet';
};
