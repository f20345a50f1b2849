import Type, { type Static } from 'typebox';
import { EVENT_CAUSES, type EventCause, type EventKind } from '../inference/event.ts';
import { SIGNALS, type SignalName } from '../telemetry/signals.ts';
import { choice, Count, Id, IsoInstant, nullable, WireSpan } from './schema.ts';

/** An event as the outside sees it (contract section 4). */
export const EVENT_KINDS = Object.keys(EVENT_CAUSES) as EventKind[];
const CAUSES = [...new Set(Object.values(EVENT_CAUSES).flat())] as EventCause[];
const SIGNAL_NAMES = Object.keys(SIGNALS) as SignalName[];

export const WireCertainty = choice('certain', 'probable', 'possible');
export const WireCause = choice(...CAUSES);
export const WireSignal = choice(...SIGNAL_NAMES);
export const WireEventKind = choice(...EVENT_KINDS);

const Bounds = Type.Unsafe<readonly [number, number]>({
  type: 'array',
  items: { type: 'number' },
  minItems: 2,
  maxItems: 2,
});

const WireCandidate = Type.Object({
  cause: WireCause,
  fit: choice('fits', 'needs-coincidence', 'excluded'),
  because: Type.String(),
});

const WireEvidence = Type.Object({
  signal: WireSignal,
  device: Type.Optional(Id),
  t: IsoInstant,
  value: nullable(Type.Number()),
  says: Type.String(),
});

const WireSaid = Type.Object({
  start: WireSpan,
  end: nullable(WireSpan),
  cause: nullable(WireCause),
  certainty: WireCertainty,
  causeCertainty: nullable(WireCertainty),
  pending: Type.Array(choice('cause', 'certainty', 'end')),
  /** it was said that it hadn't happened */
  withdrawn: Type.Boolean(),
});

/** Why an event is said otherwise: late data (whose, about when, learned when), other settings, other rules, what came next. */
const WireWhy = Type.Object({
  kind: choice('late-data', 'configuration', 'rules', 'in-order'),
  gateway: Type.Optional(nullable(Id)),
  device: Type.Optional(nullable(Id)),
  signal: Type.Optional(nullable(Type.String())),
  t: Type.Optional(nullable(IsoInstant)),
  learnedAt: Type.Optional(nullable(IsoInstant)),
  /** of a configuration: null stands for always */
  from: Type.Optional(nullable(IsoInstant)),
});

/** What was said of an event before, under which id, and why it is said no longer. */
export const WireRevision = Type.Object({
  id: Id,
  revision: Count,
  said: WireSaid,
  saidAt: IsoInstant,
  changedAt: IsoInstant,
  why: WireWhy,
});
export type WireRevision = Static<typeof WireRevision>;

export const EventAnswer = Type.Object({
  id: Id,
  site: Id,
  panel: nullable(Id),
  unit: nullable(Id),
  space: nullable(Id),
  gateway: Type.Optional(Id),
  point: Type.Optional(Id),
  kind: WireEventKind,
  cause: nullable(WireCause),
  start: WireSpan,
  end: nullable(WireSpan),
  certainty: WireCertainty,
  causeCertainty: nullable(WireCertainty),
  pending: Type.Array(choice('cause', 'certainty', 'end')),
  measures: Type.Record(Type.String(), Type.Union([Type.Number(), Bounds, Type.String(), Type.Null()])),
  candidates: Type.Array(WireCandidate),
  evidence: Type.Array(WireEvidence),
  members: Type.Array(Id),
  discriminator: Type.String(),
  replaces: Type.Array(Id),
  revision: Count,
  inferredAt: IsoInstant,
  /** set where better data took the event back and nothing stands in its place */
  withdrawnAt: Type.Optional(IsoInstant),
  /** of one event by itself: what was said of it and of those it replaced, oldest first, at most 100 */
  history: Type.Optional(Type.Array(WireRevision)),
});
export type EventAnswer = Static<typeof EventAnswer>;

export const EventList = Type.Object({
  items: Type.Array(EventAnswer),
  cursor: nullable(Type.String()),
});
export type EventList = Static<typeof EventList>;
