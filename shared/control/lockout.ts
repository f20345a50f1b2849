import { inSeconds, type Instant } from '../base/instant.ts';
import { enter, note, stopOutput, type Run } from './run.ts';
import type { ControlReason, PressureCause } from './state.ts';

/** A protective stop, handbook 2.2, rules 3 and 4. */
export function stopForPressure(run: Run, cause: PressureCause, at: Instant): void {
  const { draft } = run;
  const stop = countStop(run, cause);
  const reason: ControlReason =
    cause === 'high-pressure'
      ? { code: cause, stop }
      : { code: cause, stop, openFor: inSeconds(at - draft.lowOpenSince!) };
  stopOutput(run, reason, at);
  lockOut(run, cause, reason, stop, at);
}

export function countStop(run: Run, cause: PressureCause): number {
  const { draft, settings } = run;
  if (cause === 'high-pressure') draft.highStops++;
  else draft.lowStops++;
  if (settings.stopsCounted === 'together') return draft.highStops + draft.lowStops;
  return cause === 'high-pressure' ? draft.highStops : draft.lowStops;
}

/** The first stop of a call is a soft lockout with one retry, the second a hard one. */
export function lockOut(
  run: Run,
  cause: PressureCause,
  reason: ControlReason,
  stop: number,
  at: Instant,
): void {
  const { draft, spans } = run;
  const hard = stop >= 2;
  enter(run, hard ? 'hard-lockout' : 'soft-lockout', at);
  draft.cause = cause;
  draft.waitUntil = hard ? null : at + spans.offDelay;
  note(run, hard ? 'latched' : 'held', reason, at);
}
