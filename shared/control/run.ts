import type { Instant } from '../base/instant.ts';
import type { ControlSettings, ControlSpans } from './settings.ts';
import type { ControlChange, ControlReason, ControlState } from './state.ts';

/** One step under way: the state being written, and what has changed so far. */
export interface Run {
  readonly settings: ControlSettings;
  readonly spans: ControlSpans;
  readonly draft: Draft;
  readonly changes: ControlChange[];
  /** what gave the occasion for a start at this instant */
  occasion: 'call' | 'wait' | 'voltage';
}

export type Draft = { -readonly [K in keyof ControlState]: ControlState[K] };

export function stopOutput(run: Run, reason: ControlReason, at: Instant): void {
  run.draft.startedAt = null;
  run.draft.stoppedAt = at;
  note(run, 'stopped', reason, at);
}

export function enter(run: Run, phase: ControlState['phase'], at: Instant): void {
  run.draft.phase = phase;
  run.draft.since = at;
  run.draft.cause = null;
}

export const note = (run: Run, kind: ControlChange['kind'], reason: ControlReason, at: Instant): void => {
  run.changes.push({ at, kind, reason });
};

/** "The same call" ends: the count of stops starts afresh (handbook 2.2, rule 7). */
export function forgetCall(draft: Draft): void {
  draft.highStops = 0;
  draft.lowStops = 0;
  draft.delayAgain = false;
}
