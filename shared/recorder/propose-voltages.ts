import type { SignalName } from '../telemetry/signals.ts';
import type { Panel } from '../telemetry/site.ts';
import type { AnalogChannel, Recording } from './recording.ts';
import { scalesOf, voltsOf, type VoltageExpression } from './voltage-expression.ts';

/**
 * Which channels are which of the panel's voltages: proposed by their size beside the panel's nominal voltage and by their
 * names, decided by whoever takes the recording in. A proposal is never taken without them.
 */
export const LINE_VOLTAGES = [
  'line-voltage',
  'line-voltage-ab',
  'line-voltage-bc',
  'line-voltage-ca',
] as const;
export type LineVoltage = (typeof LINE_VOLTAGES)[number];

export const isLineVoltage = (signal: SignalName): signal is LineVoltage =>
  (LINE_VOLTAGES as readonly string[]).includes(signal);

export interface VoltageProposal extends VoltageExpression {
  readonly signal: LineVoltage;
  /** RMS of its first cycles, V */
  readonly volts: number;
}

/** Nothing is proposed for a voltage that nothing in the file is near enough to: within −40 % and +20 % of nominal. */
const [LEAST, MOST] = [0.6, 1.2];
/** More voltage channels than these aren't paired with each other. */
const MOST_PAIRED = 12;

export function proposeVoltages(recording: Recording, panel: Panel): VoltageProposal[] {
  const wired = LINE_VOLTAGES.filter((signal) => panel.points.some((point) => point.signal === signal));
  const candidates = candidatesOf(recording, panel);
  return wired.flatMap((signal) => {
    const fitting = candidates.filter(({ legs }) => suits(signal, legs));
    const [best] = fitting.sort((a, b) => a.cost - b.cost);
    if (!best) return [];
    const { channel, minus, scale, volts } = best;
    return [{ signal, channel, minus, scale, volts }];
  });
}

interface Candidate extends VoltageExpression {
  readonly volts: number;
  /** `ab`, `bc`, `ca`, or one leg; null: the name doesn't say */
  readonly legs: string | null;
  readonly cost: number;
}

function candidatesOf(recording: Recording, panel: Panel): Candidate[] {
  const { analog } = recording;
  const voltages = [...analog.keys()].filter((i) => scalesOf(analog[i]!).length > 0);
  const alone = voltages.flatMap((channel) =>
    scalesOf(analog[channel]!).map(({ scale }) => ({
      channel,
      minus: null,
      scale,
      legs: legsOf(analog[channel]!),
    })),
  );
  const pairs = voltages.slice(0, MOST_PAIRED).flatMap((channel) =>
    voltages.slice(0, MOST_PAIRED).flatMap((minus) => {
      const legs = `${legsOf(analog[channel]!) ?? ''}${legsOf(analog[minus]!) ?? ''}`;
      if (channel === minus || (!LEGS.has(legs) && !(panel.phases === 1 && legs === 'ab'))) return [];
      return scalesOf(analog[channel]!).map(({ scale }) => ({ channel, minus, scale, legs }));
    }),
  );
  return [...alone, ...pairs].flatMap((expression) => {
    const volts = rmsAtFirst(recording, expression, panel.frequency);
    const share = volts / panel.nominalVoltage;
    if (!(share >= LEAST && share <= MOST)) return [];
    // what the file has as it is goes before what has to be made of two
    const cost = Math.abs(share - 1) + (expression.minus === null ? 0 : 0.05) + 0.001 * expression.channel;
    return [{ ...expression, volts, cost }];
  });
}

const LEGS = new Set(['ab', 'bc', 'ca']);
const ASKED: Readonly<Record<LineVoltage, string | null>> = {
  'line-voltage': null,
  'line-voltage-ab': 'ab',
  'line-voltage-bc': 'bc',
  'line-voltage-ca': 'ca',
};

/** A name that says other legs rules a channel out; one leg's alone is not a voltage between two. */
function suits(signal: LineVoltage, legs: string | null): boolean {
  const asked = ASKED[signal];
  if (asked === null) return true;
  return legs !== null && LEGS.has(legs) && legs === asked;
}

const LETTERS: Readonly<Record<string, string>> = {
  1: 'a',
  2: 'b',
  3: 'c',
  l1: 'a',
  l2: 'b',
  l3: 'c',
  r: 'a',
  s: 'b',
  t: 'c',
};

/** The legs that a name speaks of: `U21`, `Vab`, `V A-B` between two; `V1`, `Va`, phase `B` of one; null: none. */
export function legsOf({ name, phase }: Pick<AnalogChannel, 'name' | 'phase'>): string | null {
  const found =
    /^(?:v|u|voltage|volts)?[ _]*((?:l?[123]|[abcrst]))[ _-]*((?:l?[123]|[abcrst]))$/i.exec(name.trim()) ??
    /^(?:v|u|voltage|volts)[ _-]*(l?[123]|[abcrst])(?:[ _-]*n)?$/i.exec(name.trim()) ??
    /^(l?[123]|[abc])$/i.exec(phase.trim());
  if (!found) return null;
  const letters = [found[1], found[2]].flatMap((part) => (part === undefined ? [] : [letterOf(part)]));
  if (letters.length < 2) return letters.join('');
  const both = letters.join('');
  // which of two is the positive one doesn't matter to an RMS value
  return LEGS.has(both) ? both : ([...LEGS].find((legs) => [...legs].reverse().join('') === both) ?? null);
}

const letterOf = (part: string): string => LETTERS[part.toLowerCase()] ?? part.toLowerCase();

/** RMS over the first whole cycles, at most five: a recording may end in a dip. */
export function rmsAtFirst(recording: Recording, expression: VoltageExpression, frequency: number): number {
  const { times } = recording;
  const cycles = Math.min(5, Math.floor((times.at(-1) ?? 0) * frequency + 0.02));
  const end = Math.max(1, cycles) / frequency - 1e-9;
  const first = { ...recording, analog: recording.analog.map(firstOf(times, end)) };
  const values = voltsOf(first, expression).filter((value) => !Number.isNaN(value));
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}

const firstOf = (times: Float64Array, end: number) => {
  const past = times.findIndex((time) => time > end);
  return (channel: AnalogChannel): AnalogChannel => ({
    ...channel,
    values: channel.values.subarray(0, past < 0 ? times.length : past),
  });
};
