import Type, { type Static } from 'typebox';
import { WireSignal } from './event-answer.ts';
import { Observability } from './observability-view.ts';
import { choice, Count, Id, IsoInstant, nullable, WireBounds } from './schema.ts';
import { UnitStatus } from './status.ts';

/** A unit's page: `GET /api/sites/:site/units/:unit`. */

export const UnitSetting = Type.Object({
  name: Type.String(),
  value: nullable(Type.Union([Type.Number(), Type.String()])),
  /** seconds, V, share of offDelay; empty for a choice */
  measure: choice('s', 'V', 'share', ''),
  known: choice('assumed', 'recorded', 'proven'),
  /** [low, high] between which telemetry has bracketed it, where it has */
  bracket: Type.Optional(WireBounds),
  /** how many restarts have shown it */
  gaps: Type.Optional(Count),
  /** the bracket lies clear of the value, beyond what a hand-set dial may be off: it isn't set as shown */
  disagrees: Type.Optional(Type.Boolean()),
});
export type UnitSetting = Static<typeof UnitSetting>;

export const WiredPoint = Type.Object({
  device: Id,
  signal: WireSignal,
  name: Type.String(),
  kind: choice('contact', 'analog', 'life'),
  measure: choice('V', 'A', '°C', ''),
  gateway: Id,
  contact: choice('normally-open', 'normally-closed'),
  sense: choice('own', 'upstream', 'isolated', 'loop'),
  reporting: Type.Object({ mode: choice('on-change', 'polled'), seconds: Type.Optional(Type.Number()) }),
  resolution: Type.Number(),
  of: Type.Array(Id),
  /** raw, as last heard without a time of its own; shown only */
  lastHeard: Type.Optional(Type.Object({ t: IsoInstant, v: Type.Number(), why: Type.String() })),
});
export type WiredPoint = Static<typeof WiredPoint>;

/** Optional facts for people; what isn't recorded is null: "not recorded – add it while you're there". */
export const UnitFacts = Type.Object({
  position: nullable(Type.String()),
  disconnect: nullable(Type.String()),
  make: nullable(Type.String()),
  model: nullable(Type.String()),
  serial: nullable(Type.String()),
  refrigerant: nullable(Type.String()),
  filter: nullable(Type.String()),
  breaker: nullable(Type.String()),
  notes: nullable(Type.String()),
  lockedRotorAmps: nullable(Type.Number()),
  ratedLoadAmps: nullable(Type.Number()),
});
export type UnitFacts = Static<typeof UnitFacts>;

/** A value that decides something on a lane, drawn as a line. */
export const Threshold = Type.Object({ signal: WireSignal, value: Type.Number(), says: Type.String() });
export type Threshold = Static<typeof Threshold>;

export const UnitView = Type.Object({
  site: Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() }),
  panel: Type.Object({
    id: Id,
    name: Type.String(),
    nominalVoltage: Type.Number(),
    minimumStartSeparation: Type.Number({ description: 's' }),
  }),
  space: Type.Object({ id: Id, name: Type.String(), temperatureLimit: nullable(Type.Number()) }),
  serverTime: IsoInstant,
  epoch: Id,
  revision: Type.Integer(),
  watchedThrough: nullable(IsoInstant),
  /** newest life of any gateway of the site: how old the page's data are */
  dataAt: nullable(IsoInstant),
  /** oldest and newest sample of the unit: what a range picker can reach */
  firstDataAt: nullable(IsoInstant),
  unit: UnitStatus,
  settings: Type.Array(UnitSetting),
  /** the unit's points, then those of its panel and its space that belong on its chart */
  points: Type.Array(WiredPoint),
  thresholds: Type.Array(Threshold),
  facts: UnitFacts,
  /** what the wiring lets one know and what not, and what would help */
  observability: Observability,
});
export type UnitView = Static<typeof UnitView>;
