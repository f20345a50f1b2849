import type { Severity } from '../alarms/severity.ts';
import type { Urgency } from '../people/must-go.ts';
import type { EventFacts } from './event-sentences.ts';

/** What a notice is made from: one root, as it stands when the message is written. */
export interface NoticeFacts {
  readonly site: Named;
  /** the unit, space, panel or gateway that it is about; null: the site itself */
  readonly device: Named | null;
  /** IANA zone of the site; every time in a notice is its wall time */
  readonly zone: string;
  readonly event: EventFacts;
  readonly severity: Severity;
  readonly urgency: Urgency;
  /** what it means for cooling and how long there is, as sentences */
  readonly cooling: readonly string[];
  /** names of units that cool the same room meanwhile */
  readonly others: readonly string[];
  /** what was done about its unit of late, newest first, as sentences */
  readonly repaired: readonly string[];
  /** names of what it explains besides */
  readonly explains: readonly string[];
}

export interface Named {
  readonly id: string;
  readonly name: string;
}
