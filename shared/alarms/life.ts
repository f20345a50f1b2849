import type { Instant } from '../base/instant.ts';
import type { Severity } from './severity.ts';

/**
 * The life of one alarm, after ISA-18.2 / IEC 62682, as regions that move by themselves:
 *
 *   condition      absent → coming (on-delay) → present → going (off-delay) → absent, in event time
 *   acknowledged   somebody has seen it; taken back when it comes again
 *   latched        stays after the condition has gone until a person closes it
 *   shelved, suppressed by design, out of service   hidden: it goes on evaluating and announces nothing
 *
 * The letters are those of the standard's state diagram; `stateOf` derives them and nothing stores one.
 */
export interface AlarmLife {
  readonly condition: 'absent' | 'coming' | 'present' | 'going';
  /** when it began to come or to go; null while absent or present */
  readonly turnedAt: Instant | null;
  readonly severity: Severity;
  readonly acknowledged: Mark | null;
  /** it was announced and nobody has acknowledged it yet */
  readonly unseen: boolean;
  readonly latched: boolean;
  readonly shelved: Shelf | null;
  readonly suppressed: Suppressor | null;
  readonly outOfService: OutOfService | null;
}

/** Who did something, and when by the server's clock. */
export interface Mark {
  readonly by: string;
  readonly at: Instant;
}

export interface Shelf extends Mark {
  readonly until: Instant;
  readonly reason: string;
}

export interface OutOfService extends Mark {
  /** the role in which it was done */
  readonly role: string;
  readonly reason: string;
}

/** Why an alarm is suppressed by design: another alarm explains it, or somebody works on its unit. */
export type Suppressor =
  { readonly kind: 'alarm'; readonly key: string } | { readonly kind: 'work'; readonly id: string };

export const AT_REST: AlarmLife = {
  condition: 'absent',
  turnedAt: null,
  severity: 'minor',
  acknowledged: null,
  unseen: false,
  latched: false,
  shelved: null,
  suppressed: null,
  outOfService: null,
};

/** ISA-18.2: A normal, B unacknowledged, C acknowledged, D returned unacknowledged, E and F latched un- and acknowledged,
 * G shelved, H suppressed by design, I out of service. */
export type StateLetter = 'A' | 'B' | 'C' | 'D' | 'E' | 'F' | 'G' | 'H' | 'I';

export const STATE_WORDS: Record<StateLetter, string> = {
  A: 'normal',
  B: 'not acknowledged',
  C: 'acknowledged',
  D: 'over, not acknowledged',
  E: 'over, kept until closed, not acknowledged',
  F: 'over, kept until closed',
  G: 'shelved',
  H: 'suppressed by design',
  I: 'out of service',
};

export const isActive = ({ condition }: AlarmLife): boolean =>
  condition === 'present' || condition === 'going';

/** Of the three ways to be hidden the most deliberate is named: out of service, then by design, then shelved. */
export function stateOf(life: AlarmLife): StateLetter {
  if (life.outOfService) return 'I';
  if (life.suppressed && (isActive(life) || life.latched)) return 'H';
  if (life.shelved) return 'G';
  if (isActive(life)) return life.unseen ? 'B' : 'C';
  if (life.latched) return life.unseen ? 'E' : 'F';
  return life.unseen ? 'D' : 'A';
}

export const isHidden = ({ outOfService, suppressed, shelved }: AlarmLife): boolean =>
  outOfService !== null || suppressed !== null || shelved !== null;

/** Does anything of it still stand: is it kept? */
export const isOpen = (life: AlarmLife): boolean => stateOf(life) !== 'A';
