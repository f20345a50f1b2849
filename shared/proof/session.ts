import { seconds, type Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Sample } from '../telemetry/sample.ts';
import type { SiteHistory } from '../telemetry/site.ts';
import type { Correction } from './correction.ts';

/**
 * A proof session: one visit in which a site's wiring is proven (issue 7, handbook 4 “Sensing must be safe”). It is a stretch
 * of event time, with the marks that people made; what it proves is a function of these and of the record (judge.ts), in
 * whichever order any of them came.
 */
export const LONGEST_SESSION = seconds(8 * 3600);

export interface ProofSession {
  readonly from: Instant;
  /** its end; while it is open, the latest end that it may have */
  readonly to: Instant;
}

/** What people say that they did, or that can’t be done today. */
export const MARK_KINDS = [
  'call-on',
  'call-off',
  'alarm-open',
  'alarm-closed',
  'power-off',
  'power-back',
  'mended',
  'left-out',
] as const;
export type MarkKind = (typeof MARK_KINDS)[number];

export interface ProofMark {
  readonly id: string;
  readonly kind: MarkKind;
  /** a unit’s id; of `mended` a point’s key; of `left-out` an item’s key */
  readonly on: string;
  /** when it was done, by the server’s clock as far as the device knew it */
  readonly at: Instant;
  readonly arrivedAt: Instant;
  readonly by: string;
  readonly note: string;
}

export interface ProofInput {
  readonly session: ProofSession;
  readonly history: SiteHistory;
  /** raw, by `<device>/<signal>`, in claimed time; around the session, with the one before it */
  readonly samples: ReadonlyMap<string, readonly Sample[]>;
  /** the newest life of each gateway, claimed */
  readonly lives: ReadonlyMap<string, Instant>;
  /** that touch the session or came after it */
  readonly events: readonly EventDraft[];
  readonly marks: readonly ProofMark[];
}

export type CheckKind =
  | 'heard'
  | 'moved'
  | 'polarity'
  | 'rest'
  | 'bounce'
  | 'reporting'
  | 'plausible'
  | 'follows'
  | 'trip'
  | 'wire'
  | 'meaning'
  | 'delay'
  | 'spacing';

/** One thing that is looked at, with what was seen of it. */
export interface Check {
  readonly kind: CheckKind;
  readonly state: 'right' | 'wrong' | 'not-seen';
  readonly says: string;
  /** when it was shown, in event time; null: not at an instant, or not yet */
  readonly at: Instant | null;
}

export type Grade = 'proven' | 'contradicted' | 'not-yet' | 'cannot-provoke' | 'left-out';

/** A point, or what a unit does as a whole. */
export interface ProofItem {
  /** `<device>/<signal>`, or `unit:<id>/run`, `…/off-delay`, `…/power-return` */
  readonly key: string;
  readonly device: string;
  readonly name: string;
  readonly grade: Grade;
  readonly checks: readonly Check[];
  /** when the last of what proves it happened, in event time; null: it isn’t proven */
  readonly at: Instant | null;
  /** what is to be done for it; null: nothing */
  readonly todo: Todo | null;
  /** a delay that was measured, beside its setting */
  readonly measured: Measured | null;
}

export interface Todo {
  readonly says: string;
  /** how long it takes, about */
  readonly seconds: number;
  /** by qualified people alone, under the unit’s or the gateway’s own instructions */
  readonly qualified: boolean;
}

export interface Measured {
  readonly what: 'off-delay' | 'power-up-delay';
  readonly seconds: Bounds;
  readonly setting: number;
  readonly known: 'assumed' | 'recorded';
  /** outside of the setting with its tolerance */
  readonly isOff: boolean;
}

export type FaultKind =
  'clock' | 'swapped' | 'polarity' | 'dead-wire' | 'mapping' | 'reporting' | 'bounce' | 'value' | 'setting';

/** A fault of the wiring or of its description, with what shows it. */
export interface Fault {
  readonly key: string;
  readonly kind: FaultKind;
  /** points or gateways that it is about */
  readonly on: readonly string[];
  readonly says: string;
  readonly because: readonly string[];
  /** what would put it right in the site’s document; null: something has to be mended */
  readonly correction: Correction | null;
}

export interface GatewayProof {
  readonly gateway: string;
  /** by how much its clock is ahead of the people’s marks, seconds; null: too few marks to tell */
  readonly aheadSeconds: number | null;
  readonly knownThrough: Instant | null;
}

export interface Verdict {
  readonly items: readonly ProofItem[];
  readonly faults: readonly Fault[];
  readonly gateways: readonly GatewayProof[];
}
