import Type, { type Static } from 'typebox';
import { AlarmAnswer } from './alarm-answer.ts';
import { EventAnswer, WireSignal } from './event-answer.ts';
import { Count, Id, IsoInstant } from './schema.ts';
import { SiteParts } from './status.ts';

/**
 * The live socket (contract section 6): socket.io on path `/live`. A client emits `join` with a room (`site:<id>` or
 * `board`) and is answered `{ epoch, revision }` or a problem; `leave` takes it out again.
 *
 * Each frame carries the room's counter when it was made (`revision`) and that of the frame this client had before it
 * (`after`). In order means: same epoch, and `after` equals the revision that the client holds; otherwise fetch again.
 * Frames are the latest state of what changed, merged for each client while it is slow: they replace by id, never add
 * up, and may be skipped when a fetched answer of the same epoch already has their revision.
 */
const place = { epoch: Id, revision: Count, after: Count, serverTime: IsoInstant };

/** only the parts that changed; `units` and the like replace those of the same id */
export const StatusFrame = Type.Object({ ...place, sites: Type.Array(SiteParts) });
export type StatusFrame = Static<typeof StatusFrame>;

/** New samples with polarity and scale applied; in room `board` none are sent. */
export const SamplesFrame = Type.Object({
  ...place,
  site: Id,
  points: Type.Array(
    Type.Object({
      device: Id,
      signal: WireSignal,
      t: Type.Array(IsoInstant),
      v: Type.Array(Type.Number()),
      /** some were left out or came late: fetch the series again where it is drawn */
      incomplete: Type.Boolean(),
    }),
  ),
});
export type SamplesFrame = Static<typeof SamplesFrame>;

export const EventFrame = Type.Object({
  ...place,
  /** new or amended */
  events: Type.Array(EventAnswer),
  withdrawn: Type.Array(Type.Object({ id: Id, site: Id, replacedBy: Type.Union([Id, Type.Null()]) })),
});
export type EventFrame = Static<typeof EventFrame>;

/** Alarms that are new or other than before, those that have come to rest (state A) among them. */
export const AlarmFrame = Type.Object({ ...place, alarms: Type.Array(AlarmAnswer) });
export type AlarmFrame = Static<typeof AlarmFrame>;

export const JoinAnswer = Type.Union([
  Type.Object({ ok: Type.Literal(true), epoch: Id, revision: Count, serverTime: IsoInstant }),
  Type.Object({ ok: Type.Literal(false), says: Type.String() }),
]);
export type JoinAnswer = Static<typeof JoinAnswer>;

export interface LiveFrames {
  status: (frame: StatusFrame) => void;
  samples: (frame: SamplesFrame) => void;
  event: (frame: EventFrame) => void;
  alarm: (frame: AlarmFrame) => void;
}
export interface LiveRequests {
  join: (room: string, answer: (answer: JoinAnswer) => void) => void;
  leave: (room: string) => void;
}
