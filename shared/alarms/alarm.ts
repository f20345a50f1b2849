import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Certainty, EventCause } from '../inference/event.ts';
import type { AlarmSubject } from './condition.ts';
import type { AlarmLife, StateLetter } from './life.ts';
import type { Asked, Happening } from './machine.ts';
import type { AlarmRuleId, TaskRuleId } from './rules.ts';
import type { Severity } from './severity.ts';

/** One alarm with what it stands for. It is kept until it is at rest; its id and its journal outlive that. */
export interface Alarm {
  readonly id: string;
  readonly site: string;
  readonly key: string;
  readonly rule: AlarmRuleId;
  readonly subject: AlarmSubject;
  readonly life: AlarmLife;
  /** of the newest time that it was true, in event time */
  readonly since: Span;
  readonly end: Span | null;
  readonly cause: EventCause | null;
  readonly certainty: Certainty;
  readonly causeCertainty: Certainty | null;
  /** ids of the events that it leans on now */
  readonly events: readonly string[];
  /** units that it names */
  readonly members: readonly string[];
  /** by the server's clock: when it was first raised */
  readonly raisedAt: Instant;
  /** how often it has become true since then, this time counted */
  readonly occurrences: number;
  /** who has taken it on, as people read it; null: nobody */
  readonly owner: string | null;
  /** that person's id; null or absent: no person of ours, or kept before ids were */
  readonly ownerId?: string | null;
}

/** One line of the journal: what happened with an alarm, who did it, when and why. Rows are only ever added. */
export interface AlarmChange {
  readonly alarm: string | null;
  readonly what: Happening | 'taken-over' | 'replaced' | 'amended' | 'learned-late';
  /** the server's clock */
  readonly at: Instant;
  /** when it was so, where that is an event's time */
  readonly eventAt: Instant | null;
  /** null: by itself */
  readonly by: string | null;
  /** a reason that somebody gave, a note, or what was said before */
  readonly why: string | null;
  readonly events: readonly string[];
  readonly state: StateLetter | null;
  readonly severity: Severity | null;
}

/** For a working day; closes itself on evidence (handbook 7). */
export interface Task {
  readonly id: string;
  readonly site: string;
  readonly key: string;
  readonly rule: TaskRuleId;
  readonly subject: AlarmSubject;
  readonly since: Span;
  readonly cause: EventCause | null;
  readonly certainty: Certainty;
  readonly events: readonly string[];
  readonly openedAt: Instant;
  readonly closedAt: Instant | null;
}

/** Somebody is working on these units: their alarms are suppressed by design, at most two hours. */
export interface Work {
  readonly id: string;
  readonly units: readonly string[];
  /** who, as people read it */
  readonly by: string;
  readonly from: Instant;
  readonly until: Instant;
  readonly endedAt: Instant | null;
}

/**
 * Accept is acknowledge plus ownership (handbook 7). It takes over from whoever has it, which acknowledging can't; the life
 * itself knows no owner.
 */
export interface Accepting {
  readonly kind: 'accept';
  readonly by: string;
  /** null: whoever asks is no person of ours */
  readonly person: string | null;
  readonly at: Instant;
}

/** What a person asked, stored before it is folded. */
export type Command = { readonly id: string } & (
  | { readonly kind: 'alarm'; readonly alarm: string; readonly asked: Asked | Accepting }
  | {
      readonly kind: 'begin-work';
      readonly units: readonly string[];
      readonly by: string;
      readonly at: Instant;
      readonly until: Instant;
    }
  | { readonly kind: 'end-work'; readonly work: string; readonly by: string; readonly at: Instant }
);
