import { inSeconds, type Instant } from '../base/instant.ts';
import { countStop, lockOut } from './lockout.ts';
import { enter, note, type Run } from './run.ts';
import type { ControlReason } from './state.ts';

const WAITING: ReadonlySet<string> = new Set([
  'ready',
  'off-delay',
  'power-up-delay',
  'soft-lockout',
  'undervoltage-hold',
]);

/** Handbook 2.2, rules 3, 4 and 8: a start needs the call, the wait over, the voltage, a closed high-pressure switch. */
export function tryStart(run: Run, t: Instant): void {
  const { draft, settings } = run;
  const may = WAITING.has(draft.phase) && draft.awaySince === null && draft.waitUntil === null;
  if (!may || !draft.call || draft.lowVoltage !== null) return;
  if (draft.highOpen) {
    const stop = countStop(run, 'high-pressure');
    return lockOut(run, 'high-pressure', { code: 'high-pressure-at-start', stop }, stop, t);
  }
  const retriesLow = draft.phase === 'soft-lockout' && draft.cause === 'low-pressure';
  if (retriesLow && draft.lowOpenSince !== null && settings.lowPressureRetry === 'closed-needed') {
    countStop(run, 'low-pressure');
    return lockOut(run, 'low-pressure', { code: 'low-pressure-at-retry', stop: 2 }, 2, t);
  }
  note(run, 'started', startReason(run, t), t);
  enter(run, 'running', t);
  draft.startedAt = t;
}

function startReason(run: Run, t: Instant): ControlReason {
  const waited = inSeconds(t - run.draft.since);
  if (run.occasion === 'wait') return { code: 'wait-over', wait: run.draft.phase, waited };
  if (run.occasion === 'voltage') return { code: 'voltage-recovered', waited };
  return { code: 'call-came' };
}
