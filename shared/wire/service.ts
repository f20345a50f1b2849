import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** Answers about the service itself: health, readiness, the state of inference, what was set aside, sites. */

export const HealthAnswer = Type.Object({ ok: Type.Literal(true), version: Type.String(), time: IsoInstant });
export type HealthAnswer = Static<typeof HealthAnswer>;

const Part = Type.Object({
  name: Type.String(),
  ok: Type.Boolean(),
  says: Type.String(),
  /** false: told, but the server is ready without it */
  gates: Type.Boolean(),
  /** since when it is well, or isn't, as far as this process has seen */
  since: IsoInstant,
});

export const ReadyAnswer = Type.Object({
  ready: Type.Boolean(),
  parts: Type.Array(Part),
  database: Type.Object({
    kind: choice('embedded', 'external'),
    version: nullable(Type.String()),
    timescale: nullable(Type.String()),
  }),
  inference: Type.Object({ pending: Count, oldestWaitSeconds: nullable(Type.Number()) }),
});
export type ReadyAnswer = Static<typeof ReadyAnswer>;

export const InferenceAnswer = Type.Object({
  /** work items, due deadlines and unfinished re-inference; conclusions that wait for data don't count */
  pending: Count,
  /** everything at or before is taken into what is published; null: nothing yet */
  through: nullable(IsoInstant),
  /** subjects on which inference stopped, and why */
  stopped: Type.Array(Type.Object({ site: Id, kind: Type.String(), device: Id, reason: Type.String() })),
});
export type InferenceAnswer = Static<typeof InferenceAnswer>;

export const RejectedAnswer = Type.Object({
  id: Type.String(),
  t: IsoInstant,
  topic: Type.String(),
  reason: Type.String(),
  detail: Type.String(),
  /** the payload as text where it is UTF-8, else in hexadecimal; at most 1,024 bytes here */
  payload: Type.String(),
  encoding: choice('utf-8', 'hex'),
  payloadBytes: Count,
});
export type RejectedAnswer = Static<typeof RejectedAnswer>;

export const RejectedList = Type.Object({
  items: Type.Array(RejectedAnswer),
  cursor: nullable(Type.String()),
});
export type RejectedList = Static<typeof RejectedList>;

export const SiteItem = Type.Object({
  id: Id,
  name: Type.String(),
  timeZone: Type.String(),
  units: Count,
  spaces: Count,
  panels: Count,
});
export type SiteItem = Static<typeof SiteItem>;

export const SiteList = Type.Object({ items: Type.Array(SiteItem), cursor: nullable(Type.String()) });
export type SiteList = Static<typeof SiteList>;

/** `always`, or the instant from which a version holds. */
const SiteVersion = Type.Object({ from: Type.String(), putAt: IsoInstant, putBy: Type.String() });

export const SiteSaved = Type.Object({ id: Id, from: Type.String(), revision: Count });
export type SiteSaved = Static<typeof SiteSaved>;

export const SiteHistoryAnswer = Type.Object({ id: Id, versions: Type.Array(SiteVersion) });
export type SiteHistoryAnswer = Static<typeof SiteHistoryAnswer>;
