import Type, { type Static } from 'typebox';
import { MARK_KINDS } from '../proof/session.ts';
import { choice, Count, Id, IsoInstant, nullable, WireBounds } from './schema.ts';

/** A proof session as the page shows it, the marks that are sent from there, and the record that is kept (issue 7). */
const Key = Type.String({ maxLength: 200 });

export const MarkAsk = Type.Object(
  {
    command: Type.String({ format: 'uuid' }),
    kind: choice(...MARK_KINDS),
    on: Key,
    saidAt: Type.Optional(IsoInstant),
    clockAheadMs: Type.Optional(Type.Number()),
    note: Type.Optional(Type.String({ maxLength: 500 })),
  },
  { additionalProperties: false },
);
export type MarkAsk = Static<typeof MarkAsk>;

export const CorrectionAsk = Type.Object(
  { fault: Key, diff: Type.String({ maxLength: 1000, description: 'what was shown: another is refused' }) },
  { additionalProperties: false },
);

const WireGrade = choice('proven', 'contradicted', 'not-yet', 'cannot-provoke', 'left-out');
const Todo = Type.Object({
  says: Type.String(),
  seconds: Type.Number(),
  qualified: Type.Boolean({ description: 'by qualified people alone' }),
});

const WireMeasured = Type.Object({
  what: choice('off-delay', 'power-up-delay'),
  seconds: WireBounds,
  setting: Type.Number(),
  known: choice('assumed', 'recorded'),
  isOff: Type.Boolean(),
});

export const ProofItemAnswer = Type.Object({
  key: Key,
  device: Id,
  name: Type.String(),
  grade: WireGrade,
  checks: Type.Array(
    Type.Object({
      kind: Type.String(),
      state: choice('right', 'wrong', 'not-seen'),
      says: Type.String(),
      at: nullable(IsoInstant),
    }),
  ),
  /** when the last of what proves it happened, and when that arrived here */
  at: nullable(IsoInstant),
  arrivedAt: nullable(IsoInstant),
  todo: nullable(Todo),
  measured: nullable(WireMeasured),
});
export type ProofItemAnswer = Static<typeof ProofItemAnswer>;

export const ProofFault = Type.Object({
  key: Key,
  kind: Type.String(),
  on: Type.Array(Key),
  says: Type.String(),
  because: Type.Array(Type.String()),
  /** what one press puts into the site’s document, in words; null: something has to be mended */
  correction: nullable(Type.Object({ press: Type.String(), diff: Type.String() })),
});
export type ProofFault = Static<typeof ProofFault>;

const GatewayLine = Type.Object({
  gateway: Id,
  says: Type.String(),
  aheadSeconds: nullable(Type.Number()),
  knownThrough: nullable(IsoInstant),
  /** from a change to here, seconds: usual, and in the slowest minute */
  usualSeconds: nullable(Type.Number()),
  slowestSeconds: nullable(Type.Number()),
});

const Drill = Type.Object({
  state: choice('none', 'sent', 'answered', 'nobody'),
  says: Type.String(),
  answeredAt: nullable(IsoInstant),
  answeredBy: nullable(Type.String()),
});

export const ProofMarkAnswer = Type.Object({
  id: Id,
  kind: choice(...MARK_KINDS),
  on: Key,
  by: Type.String(),
  at: IsoInstant,
  arrivedAt: IsoInstant,
  note: Type.String(),
});
export type ProofMarkAnswer = Static<typeof ProofMarkAnswer>;

const Counts = Type.Object({
  proven: Count,
  cannotProvoke: Count,
  contradicted: Count,
  leftOut: Count,
  notYet: Count,
});

/** What is kept of a session. */
export const ProofRecord = Type.Object({
  mayLeave: Type.Boolean(),
  says: Type.String(),
  counts: Counts,
  todo: Type.Array(Type.Object({ ...Todo.properties, items: Type.Array(Key) })),
  items: Type.Array(ProofItemAnswer),
  faults: Type.Array(ProofFault),
  gateways: Type.Array(GatewayLine),
  drill: Drill,
  marks: Type.Array(ProofMarkAnswer),
});
export type ProofRecord = Static<typeof ProofRecord>;

export const ProofSessionAnswer = Type.Object({
  id: Id,
  from: IsoInstant,
  /** its end; while it is open, the latest that it may have */
  to: IsoInstant,
  isOpen: Type.Boolean(),
  by: Type.String(),
});
export type ProofSessionAnswer = Static<typeof ProofSessionAnswer>;

const Line = Type.Object({ ...ProofSessionAnswer.properties, says: Type.String(), mayLeave: Type.Boolean() });

export const ProofAnswer = Type.Object({
  serverTime: IsoInstant,
  site: Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() }),
  units: Type.Array(Type.Object({ id: Id, name: Type.String(), hasAlarmWire: Type.Boolean() })),
  names: Type.Record(Type.String(), Type.String(), { description: 'of devices' }),
  rules: Type.Array(Type.String()),
  cautions: Type.Array(Type.String()),
  /** null: none is open */
  session: nullable(ProofSessionAnswer),
  now: nullable(ProofRecord),
  records: Type.Array(Line, { description: 'sessions that have ended, the newest first' }),
  /** when it is to be proven anew; null: it never was */
  dueAt: nullable(IsoInstant),
});
export type ProofAnswer = Static<typeof ProofAnswer>;

export const ProofRecordAnswer = Type.Object({
  session: ProofSessionAnswer,
  site: Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() }),
  names: Type.Record(Type.String(), Type.String()),
  record: ProofRecord,
  /** what happened by itself after the session */
  seenSince: Type.Array(Type.Object({ key: Key, says: Type.String(), at: IsoInstant })),
  /** against the record before; null: there is none */
  differences: nullable(Type.Array(Type.Object({ key: Key, says: Type.String() }))),
});
export type ProofRecordAnswer = Static<typeof ProofRecordAnswer>;
