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
  /** it is of the simulated buildings, and nobody has changed it */
  demonstration: Type.Boolean(),
});
export type SiteItem = Static<typeof SiteItem>;

export const SiteList = Type.Object({ items: Type.Array(SiteItem), cursor: nullable(Type.String()) });
export type SiteList = Static<typeof SiteList>;

/** `always`, or the instant from which a version holds. */
const SiteVersion = Type.Object({ from: Type.String(), putAt: IsoInstant, putBy: Type.String() });

export const SiteSaved = Type.Object({ id: Id, from: Type.String(), revision: Count });
export type SiteSaved = Static<typeof SiteSaved>;

/** `revision`: to be given with a `PUT` that is to be refused where somebody else has saved meanwhile. */
export const SiteHistoryAnswer = Type.Object({ id: Id, revision: Count, versions: Type.Array(SiteVersion) });
export type SiteHistoryAnswer = Static<typeof SiteHistoryAnswer>;

const SiteSave = Type.Object({
  id: Type.String(),
  revision: Count,
  from: Type.String({ description: '`always`, or an instant' }),
  putAt: IsoInstant,
  putBy: Type.String(),
  holds: Type.Boolean({ description: 'false: another has taken its place since' }),
});
export type SiteSave = Static<typeof SiteSave>;

/** Everything that was ever saved of a site, the newest first. */
export const SiteSaveList = Type.Object({ items: Type.Array(SiteSave), cursor: nullable(Type.String()) });
export type SiteSaveList = Static<typeof SiteSaveList>;

/** What saving from an instant would infer again, about. */
export const ReinferenceAnswer = Type.Object({
  rows: Count,
  from: nullable(IsoInstant),
  to: nullable(IsoInstant),
  rowsPerSecond: nullable(
    Type.Number({ description: 'as measured since this server started; null: not yet' }),
  ),
  seconds: nullable(Type.Number()),
  givesWay: Type.Array(Type.Object({ from: Type.String(), putAt: IsoInstant, putBy: Type.String() }), {
    description: 'documents that hold from then or later, whose place it would take',
  }),
});
export type ReinferenceAnswer = Static<typeof ReinferenceAnswer>;
