import type { Instant } from '../../shared/base/instant.ts';

/** What really went on at one unit: every signal's changes, exact. */
export const TRACE_SIGNALS = [
  'volts',
  'want',
  'call',
  'seen-call',
  'high',
  'low',
  'output',
  'alarm',
  /** one contact for this unit and others */
  'shared-alarm',
  'current',
] as const;
export type TraceSignal = (typeof TRACE_SIGNALS)[number];

/** One signal's changes: from `at[i]` on its value is `value[i]`. */
export interface Steps {
  readonly at: Instant[];
  readonly value: number[];
}
export type Trace = Readonly<Record<TraceSignal, Steps>>;

export const NO_CHANGES = (): Trace =>
  Object.fromEntries(TRACE_SIGNALS.map((signal) => [signal, { at: [], value: [] }])) as unknown as Trace;

/** What holds from `at` on; a change that is undone at its own instant was none. */
export function record(trace: Trace, signal: TraceSignal, at: Instant, value: number): void {
  const steps = trace[signal];
  if (steps.at.at(-1) === at) {
    steps.at.pop();
    steps.value.pop();
  }
  if (steps.value.at(-1) === value) return;
  steps.at.push(at);
  steps.value.push(value);
}

/** The place of the step that holds at an instant; −1 before the first. */
export function placeAt(steps: Steps, at: Instant): number {
  let low = 0;
  let high = steps.at.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (steps.at[middle]! <= at) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}

export const valueAt = (steps: Steps, at: Instant): number => steps.value[placeAt(steps, at)] ?? 0;

/** A stretch over which a condition on a signal holds; `to` Infinity where the history ends within it. */
export interface Stretch {
  readonly from: Instant;
  readonly to: Instant;
}

export function stretches(steps: Steps, holds: (value: number) => boolean): Stretch[] {
  const found: Stretch[] = [];
  let from: Instant | null = null;
  steps.at.forEach((at, i) => {
    const now = holds(steps.value[i]!);
    if (now && from === null) from = at;
    if (!now && from !== null) {
      found.push({ from, to: at });
      from = null;
    }
  });
  if (from !== null) found.push({ from, to: Infinity });
  return found;
}

/** Both units' alarms on one contact: closed while either is. */
export function shareAlarm(trace: Trace, other: Trace): void {
  const instants = [...new Set([...trace.alarm.at, ...other.alarm.at])].sort((a, b) => a - b);
  for (const at of instants)
    record(trace, 'shared-alarm', at, Math.max(valueAt(trace.alarm, at), valueAt(other.alarm, at)));
}
