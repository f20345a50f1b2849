import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { ControlChange } from '../../shared/control/state.ts';
import type { EventCause } from '../../shared/inference/event.ts';
import type { Protection } from '../../shared/telemetry/site.ts';
import { stretches, type Stretch } from './trace.ts';
import { holding, leaning, type Leaning } from './true-event.ts';
import type { UnitPlant } from './unit-plant.ts';

/** What truly went on at a unit, in the stretches and changes that its labels are drawn from. */
export interface TruthInput {
  readonly unit: Pick<UnitPlant, 'trace' | 'changes'>;
  /** what is written down, from each instant on */
  readonly recorded: readonly { readonly from: Instant; readonly protection: Protection }[];
  readonly alarmInverted: boolean;
  readonly to: Instant;
}

export interface Facts extends TruthInput {
  readonly runs: readonly Stretch[];
  readonly calls: readonly Stretch[];
  readonly outages: readonly Stretch[];
  protectionAt(at: Instant): Protection;
}

/** The stretch in which the output was off from `at` on, and the one before. */
export const offAfter = ({ runs }: Facts, at: Instant): Stretch => ({
  from: at,
  to: runs.find(({ from }) => from >= at)?.from ?? Infinity,
});

export const offBefore = ({ runs }: Facts, at: Instant): Stretch => ({
  from: runs.findLast(({ to }) => to <= at)?.to ?? -Infinity,
  to: at,
});

export const changeAt = (facts: Facts, kind: ControlChange['kind'], at: Instant): ControlChange | undefined =>
  facts.unit.changes.find((change) => change.kind === kind && change.at === at);

/** What shows why the output went off. */
export function causeLeaning({ unit, calls, outages }: Facts, stopped: ControlChange | undefined): Leaning[] {
  if (!stopped) return [];
  const { at, reason } = stopped;
  const { trace } = unit;
  switch (reason.code) {
    case 'call-ended': {
      const next = calls.find(({ from }) => from >= at);
      return leaning('call', { from: at, to: next?.from ?? Infinity });
    }
    case 'power-lost':
      return leaning('volts', holding(outages, at));
    case 'undervoltage':
      return leaning(
        'volts',
        holding(
          stretches(trace.volts, (value) => value < reason.trip),
          at,
        ),
      );
    case 'high-pressure':
      return leaning(
        'high',
        holding(
          stretches(trace.high, (value) => value === 1),
          at,
        ),
      );
    case 'low-pressure':
      return leaning(
        'low',
        holding(
          stretches(trace.low, (value) => value === 1),
          at,
        ),
      );
    default:
      return [];
  }
}

export const isPressure = (change: ControlChange): boolean =>
  change.reason.code.startsWith('high-pressure') || change.reason.code.startsWith('low-pressure');

export const isRefusal = ({ reason }: ControlChange): boolean => reason.code.endsWith('at-start');

/** No end of the call or of power lies between. */
export function isSameCall({ calls }: Facts, a: Instant, b: Instant): boolean {
  const call = holding(calls, b);
  return !!call && a >= call.from;
}

export const pressureOf = ({ reason: { code } }: ControlChange): EventCause =>
  code.startsWith('high') ? 'high-pressure' : 'low-pressure';

export function lockoutLeaning(facts: Facts, change: ControlChange): Leaning[] {
  const stopped = changeAt(facts, 'stopped', change.at);
  return [
    ...leaning('output', offAfter(facts, change.at)),
    ...leaning(
      'output',
      facts.runs.findLast(({ to }) => to <= change.at),
    ),
    ...leaning('call', holding(facts.calls, change.at)),
    ...causeLeaning(facts, stopped),
  ];
}

/** Without an alarm that tells, a latch shows only once the retry is overdue: beyond what can be set where none is written. */
export function outlastsRetry(facts: Facts, at: Instant): boolean {
  const { offDelay, tolerance, settingError } = facts.protectionAt(at);
  const planned = offDelay.value * (1 + tolerance);
  const overdue = (offDelay.known === 'assumed' ? Math.max(300, planned) : planned) + settingError;
  const stop = facts.runs.findLast(({ to }) => to <= at)?.to ?? at;
  const over =
    facts.unit.changes.find((change) => change.kind === 'reset' && change.at >= at)?.at ?? Infinity;
  return Math.min(over, facts.to) - stop > seconds(overdue + 2);
}
