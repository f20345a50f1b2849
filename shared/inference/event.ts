import type { Bounds, Span } from '../base/span.ts';
import { digest } from '../base/digest.ts';
import type { DeviceKind, SignalName } from '../telemetry/signals.ts';
import type { Instant } from '../base/instant.ts';

/**
 * Events: inferred facts, with their evidence (contract section 4). Existence and times carry one certainty, the
 * cause another (handbook 4).
 */
export const EVENT_CAUSES = {
  'compressor-run': [
    'call-ended',
    'high-pressure',
    'low-pressure',
    'pressure',
    'undervoltage',
    'power-lost',
    'unknown',
  ],
  'short-cycle': ['delay-not-kept', 'too-many-starts'],
  'soft-lockout': ['high-pressure', 'low-pressure', 'pressure'],
  'hard-lockout': ['high-pressure', 'low-pressure', 'pressure', 'unknown'],
  'lockout-reset': ['call-broken', 'power-broken'],
  'undervoltage-hold': [],
  'power-loss': ['supply', 'unit-only', 'unknown'],
  'simultaneous-start': ['after-power-return', 'in-service'],
  'restart-sequence': [],
  'voltage-sag': [],
  'voltage-swell': [],
  interruption: [],
  'generator-supply': [],
  'stuck-contactor': [],
  'failed-start': ['at-start', 'in-run'],
  'alarm-circuit-fault': ['silent', 'unexplained'],
  'setting-mismatch': [],
  'control-disagrees': [],
  'control-voltage-out-of-range': ['low', 'high', 'wrong-tap'],
  'repeated-reset': [],
  'weak-cooling': ['air-difference', 'temperature-rising'],
  'loss-of-cooling': ['reduced', 'lost'],
  'high-temperature': ['measured', 'forecast'],
  'telemetry-gap': ['point-silent', 'gateway-silent', 'not-watched'],
} as const satisfies Record<string, readonly string[]>;

export type EventKind = keyof typeof EVENT_CAUSES;
export type EventCause = (typeof EVENT_CAUSES)[EventKind][number];

/** `certain`: every history that fits the samples and tolerances contains it; `probable`: the alternative needs a
 * coincidence, which is named; `possible`: others fit as well (handbook 4). */
export type Certainty = 'certain' | 'probable' | 'possible';
export type Pending = 'cause' | 'certainty' | 'end';

export interface Candidate {
  readonly cause: EventCause;
  readonly fit: 'fits' | 'needs-coincidence' | 'excluded';
  readonly because: string;
}

/** What was seen that an event leans on. `value` is as the page shows it: 1/0 asserted or not, or V, A, °C. */
export interface Evidence {
  readonly signal: SignalName;
  /** where it isn't the event's own unit */
  readonly device?: string;
  readonly t: Instant;
  readonly value: number | null;
  readonly says: string;
}

export type Measure = number | Bounds | string | null;

/** What an event is about: the narrowest of them is its subject. */
export interface Subject {
  readonly kind: DeviceKind;
  readonly site: string;
  /** id of the unit, panel, space or gateway; `site` for the site itself */
  readonly device: string;
}

/** An event as a fold decides it: everything but what the store adds (revision, replaces, inferredAt). */
export interface EventDraft {
  readonly id: string;
  readonly site: string;
  readonly panel: string | null;
  readonly unit: string | null;
  readonly space: string | null;
  /** set where the subject is a gateway or a single point */
  readonly gateway?: string;
  readonly point?: string;
  readonly kind: EventKind;
  readonly cause: EventCause | null;
  readonly start: Span;
  /** null while it lasts; an instant event has end = start */
  readonly end: Span | null;
  readonly certainty: Certainty;
  /** null where there is no cause to judge */
  readonly causeCertainty: Certainty | null;
  readonly pending: readonly Pending[];
  readonly measures: Readonly<Record<string, Measure>>;
  readonly candidates: readonly Candidate[];
  readonly evidence: readonly Evidence[];
  readonly members: readonly string[];
  /** phase or setting name, else empty; part of the id */
  readonly discriminator: string;
}

/**
 * The id: hash of site, subject, kind, discriminator and start.latest in whole ms (contract 4). Cause, certainty, end
 * and members take no part, so an event keeps its id while more is learned about it.
 */
export const eventId = (
  subject: Subject,
  kind: EventKind,
  discriminator: string,
  startLatest: Instant,
): string =>
  digest(
    subject.site,
    `${subject.kind}/${subject.device}`,
    kind,
    discriminator,
    String(Math.floor(startLatest / 1000)),
  );

const RANK: Record<Certainty, number> = { certain: 2, probable: 1, possible: 0 };
/** The weaker of two certainties. */
export const weaker = (a: Certainty, b: Certainty): Certainty => (RANK[a] <= RANK[b] ? a : b);
