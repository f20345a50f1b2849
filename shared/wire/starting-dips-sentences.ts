import type { Bounds } from '../base/span.ts';
import type { DropOut, StartPrediction } from '../power/start-prediction.ts';
import type { GraceAdvice, GraceRefusal } from '../power/start-grace.ts';

/** What is said of starts and of the dips they make (handbook 5.5, 5.6). */

/** `229 V`, `228–230 V` */
export const voltsText = (volts: Bounds): string => `${between(volts, (value) => value.toFixed(0))} V`;
/** `4.5 %`, `4.2–4.8 %` */
export const dipText = (dip: Bounds): string => `${between(dip, (value) => (100 * value).toFixed(1))} %`;

function between([low, high]: Bounds, write: (value: number) => string): string {
  const [a, b] = [write(low), write(high)];
  return a === b ? a : `${a}–${b}`;
}

export interface Told {
  readonly prediction: StartPrediction;
  readonly supply: 'utility' | 'generator';
  readonly panelName: string;
  /** every unit of the panel at that voltage; null: its control voltage isn't known */
  readonly dropOuts: readonly { readonly name: string; readonly verdict: DropOut | null }[];
  readonly all: boolean;
}

/** `Two starting together pull Panel A to 229 V (4.5 %): no unit drops out.` */
export function predictionText({ prediction, supply, panelName, dropOuts, all }: Told): string {
  const { units, volts, dip } = prediction;
  const who = units.length === 1 ? 'One start' : `${startsText(units.length, all)} starting together`;
  const pulls = units.length === 1 ? 'pulls' : 'pull';
  const where = supply === 'generator' ? `${panelName} on the generator` : panelName;
  return `${who} ${pulls} ${where} to ${voltsText(volts)} (${dipText(dip)}): ${dropOutText(dropOuts)}.`;
}

const NUMBERS = ['', 'One', 'Two', 'Three', 'Four', 'Five', 'Six', 'Seven', 'Eight'];
const startsText = (count: number, all: boolean): string => {
  const number = NUMBERS[count] ?? String(count);
  return all && count > 2 ? `All ${number.toLowerCase()}` : number;
};

function dropOutText(dropOuts: Told['dropOuts']): string {
  const named = (verdict: DropOut | null) =>
    dropOuts.filter((one) => one.verdict === verdict).map(({ name }) => name);
  const [drops, unsure, unknown] = [named('drops'), named('unsure'), named(null)];
  if (drops.length > 0) return `${list(drops)} ${drops.length === 1 ? 'drops' : 'drop'} out`;
  if (unsure.length > 0)
    return `whether ${list(unsure)} ${unsure.length === 1 ? 'holds' : 'hold'} can’t be told`;
  if (unknown.length === dropOuts.length) return 'no control voltage tells whether a unit drops out';
  if (unknown.length > 0)
    return `no unit drops out as far as known; ${list(unknown)} ${unknown.length === 1 ? 'has' : 'have'} no control voltage to tell`;
  return 'no unit drops out';
}

const list = (names: readonly string[]): string => {
  if (names.length > 4) return `${names.slice(0, 3).join(', ')} and ${names.length - 3} more`;
  return names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
};

/** Why no grace is advised, as a total table: a new reason fails to compile until it has words. */
const REFUSALS: Readonly<Record<GraceRefusal, string>> = {
  'no-trip': 'this control has no undervoltage trip, so there is nothing to ignore',
  'few-starts': 'fewer than five starts were seen: too few to tell how they differ',
  'too-slow':
    'control voltage is read too seldom to show a dip of less than a second: report it on change, or record some starts',
  lasts:
    'the voltage stays low for more than 2 s after a start: that is a fault of the supply or the compressor, for a licensed electrician or technician, and no setting',
  'no-recovery':
    'after a start the voltage didn’t come back: that is a fault of the supply or the compressor, for a licensed electrician or technician, and no setting',
  'cut-short':
    'the control let go while the voltage was low, so how long it would have stayed low can’t be seen',
};

/** The unit's instructions come first, whatever is suggested (handbook 5.6). */
const INSTRUCTIONS = 'Whether it may be changed, and how far, the unit’s own instructions say.';

export function graceText(advice: GraceAdvice, now: number): string {
  const starts = `${advice.starts} ${advice.starts === 1 ? 'start' : 'starts'}`;
  if (advice.kind === 'none-needed')
    return `No undervoltage start grace is needed: control voltage stayed above trip in ${starts}.`;
  if (advice.kind === 'refused') return `No undervoltage start grace is suggested: ${REFUSALS[advice.why]}.`;
  const seen = `control voltage was below trip for up to ${advice.longest.toFixed(2)} s in ${starts}`;
  return now >= advice.seconds
    ? `The undervoltage start grace of ${now} s covers what was seen: ${seen}.`
    : `An undervoltage start grace of ${advice.seconds.toFixed(1)} s would cover what was seen: ${seen}. ${INSTRUCTIONS}`;
}

/** Beside anything that implies work at a panel (handbook 8). */
export const SUPPLY_CAUTIONS = [
  'Work on a supply, a panel or a compressor is for licensed electricians and technicians: isolate with lockout/tagout and prove dead (29 CFR 1910.147, 1910.333).',
  'A waiting unit starts by itself, without warning; a generator may too, and is a second source.',
  'What stands here is worked out from voltages alone. It is no measurement of a short circuit and no ground for choosing a breaker or fuse.',
] as const;
