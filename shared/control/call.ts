import type { Instant } from '../base/instant.ts';
import { enter, forgetCall, note, stopOutput, type Run } from './run.ts';

/** The cooling call comes and goes, handbook 2.2, rules 2, 5 and 7. */
export function takeCall(run: Run, call: boolean, t: Instant): void {
  const { draft, spans } = run;
  if (call === draft.call) return;
  draft.call = call;
  if (draft.phase === 'no-power') return;
  if (!call) return callGone(run, t);
  if (draft.delayAgain && draft.waitUntil !== null && draft.waitUntil > t)
    draft.waitUntil = t + spans.offDelay;
  draft.delayAgain = false;
}

function callGone(run: Run, t: Instant): void {
  const { draft, spans } = run;
  forgetCall(draft);
  if (draft.phase === 'power-up-delay') return;
  if (draft.phase === 'running') {
    stopOutput(run, { code: 'call-ended' }, t);
    enter(run, 'off-delay', t);
    draft.waitUntil = t + spans.offDelay;
    return;
  }
  if (draft.phase === 'hard-lockout') {
    note(run, 'reset', { code: 'call-broken' }, t);
    draft.waitUntil = draft.stoppedAt === null ? null : draft.stoppedAt + spans.offDelay;
  }
  delayFromBreak(run, t);
}

/** The call broke with the output already off: how long before the next start (`offDelayFrom`). */
function delayFromBreak(run: Run, t: Instant): void {
  const { draft, settings, spans } = run;
  const awaitsRecovery =
    draft.phase === 'undervoltage-hold' &&
    settings.undervoltageDelayFrom === 'recovery' &&
    draft.lowVoltage !== null;
  if (awaitsRecovery) return;
  if (settings.offDelayFrom === 'call') {
    draft.waitUntil = t + spans.offDelay;
    draft.delayAgain = true;
  }
  if (draft.waitUntil !== null && draft.waitUntil <= t) draft.waitUntil = null;
  const goesOn = draft.phase === 'off-delay' && settings.offDelayFrom === 'stop' && draft.waitUntil !== null;
  if (!goesOn) enter(run, draft.waitUntil === null ? 'ready' : 'off-delay', t);
}
