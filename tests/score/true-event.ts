import type { Instant } from '../../shared/base/instant.ts';
import type { EventCause, EventKind } from '../../shared/inference/event.ts';
import type { Stretch, TraceSignal } from './trace.ts';

/** An event that really was one by contract section 4, at its exact time. */
export interface TrueEvent {
  readonly kind: EventKind;
  /** null: none to judge */
  readonly cause: EventCause | null;
  readonly start: Instant;
  /** null: it lasts; undefined: its end isn't judged */
  readonly end: Instant | null | undefined;
  readonly discriminator: string;
  /** false: the handbook lets it be read either way, so that it counts neither as found nor as missed */
  readonly needed: boolean;
  /** what must have been seen for it to be known: stretches of signals */
  readonly leansOn: readonly Leaning[];
  /** the off time that it is judged by is as long as a power-up delay: an outage too short to be seen would fit (rule 7) */
  readonly fitsPowerUp: boolean;
  /** where it may have been seen to begin already, by a reading that the handbook leaves open */
  readonly orFrom: readonly Instant[];
}

export interface Leaning extends Stretch {
  readonly signal: TraceSignal;
}

export const event = (
  parts: Pick<TrueEvent, 'kind' | 'cause' | 'start' | 'end'> & Partial<TrueEvent>,
): TrueEvent => ({
  discriminator: '',
  needed: true,
  leansOn: [],
  orFrom: [],
  fitsPowerUp: false,
  ...parts,
});

export const leaning = (signal: TraceSignal, stretch: Stretch | undefined): Leaning[] =>
  stretch ? [{ signal, from: stretch.from, to: stretch.to }] : [];

export const holding = (all: readonly Stretch[], at: Instant): Stretch | undefined =>
  all.find(({ from, to }) => from <= at && at < to);
