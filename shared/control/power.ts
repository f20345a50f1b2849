import { inSeconds, type Instant } from '../base/instant.ts';
import { enter, forgetCall, note, stopOutput, type Run } from './run.ts';
import { NO_POWER_BELOW, type ControlReason } from './state.ts';

/** Control power and its voltage, handbook 2.2, rules 1, 5 and 6. */
export function takePower(run: Run, volts: number, t: Instant): void {
  const { draft } = run;
  const isAway = volts < NO_POWER_BELOW;
  const wasAway = draft.awaySince !== null || draft.phase === 'no-power';
  if (isAway && !wasAway) powerGone(run, t);
  if (isAway && draft.awaySince !== null && t - draft.awaySince >= run.spans.holdUp) reset(run, t);
  if (!isAway && wasAway) powerBack(run, t);
  if (!isAway) takeVoltage(run, volts, t);
}

function powerGone(run: Run, t: Instant): void {
  if (run.draft.phase === 'running') note(run, 'stopped', { code: 'power-lost' }, t);
  run.draft.awaySince = t;
}

/** Power has been away too long: everything is forgotten. */
export function reset(run: Run, at: Instant): void {
  const { draft } = run;
  if (draft.phase === 'hard-lockout') note(run, 'reset', { code: 'power-broken' }, at);
  if (draft.phase === 'running') draft.stoppedAt = draft.awaySince;
  forgetCall(draft);
  Object.assign(draft, { awaySince: null, startedAt: null, waitUntil: null, call: false, lowVoltage: null });
  enter(run, 'no-power', at);
}

function powerBack(run: Run, t: Instant): void {
  const { draft, spans } = run;
  if (draft.awaySince !== null && t - draft.awaySince < spans.holdUp) {
    const away = inSeconds(t - draft.awaySince);
    draft.awaySince = null;
    if (draft.phase === 'running') note(run, 'started', { code: 'held-up', away }, t);
    return;
  }
  if (draft.awaySince !== null) reset(run, t);
  note(run, 'waiting', { code: 'power-returned' }, t);
  enter(run, 'power-up-delay', t);
  draft.waitUntil = t + spans.powerUp;
}

function takeVoltage(run: Run, volts: number, t: Instant): void {
  const { draft, settings, spans } = run;
  const trip = settings.undervoltageTrip;
  const low = trip !== null && volts < trip ? volts : null;
  const recovered = draft.lowVoltage !== null && low === null;
  draft.lowVoltage = low;
  if (low !== null && draft.phase === 'running' && t >= draft.startedAt! + spans.grace)
    dropForVoltage(run, t);
  if (!recovered) return;
  if (draft.phase === 'undervoltage-hold' && settings.undervoltageDelayFrom === 'recovery')
    draft.waitUntil = t + spans.offDelay;
  else run.occasion = 'voltage';
}

/** Handbook 2.2, rule 6. It doesn't count toward a hard lockout. */
export function dropForVoltage(run: Run, at: Instant): void {
  const { draft, settings, spans } = run;
  const reason: ControlReason = {
    code: 'undervoltage',
    volts: draft.lowVoltage!,
    trip: settings.undervoltageTrip!,
  };
  stopOutput(run, reason, at);
  enter(run, 'undervoltage-hold', at);
  draft.waitUntil = settings.undervoltageDelayFrom === 'drop' ? at + spans.offDelay : null;
  note(run, 'held', reason, at);
}
