import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** How telemetry comes in: `GET /api/telemetry`, of all sites or of one with its gateways and points. */

const Counted = Type.Object({ points: Count, silent: Count, never: Count });

/** Within a stretch of arrival: messages a minute, and seconds from the time that they claim to their arrival. */
const Lateness = Type.Object({
  perMinute: Type.Number(),
  medianSeconds: Type.Number(),
  leastSeconds: Type.Number(),
});

export const GatewayTelemetry = Type.Object({
  site: Id,
  id: Id,
  /** the newest that it has told of, in its own time with its offset applied */
  lastLife: nullable(IsoInstant),
  silentSince: nullable(IsoInstant),
  /** the last ten minutes of arrival; null: nothing came */
  now: nullable(Lateness),
  /** the last 24 h */
  day: nullable(Lateness),
  /** its messages come so much later than they say; null: not, or nothing comes */
  behindSeconds: nullable(Type.Number()),
  /** it is behind, and catches up: what it held comes faster than time goes, and is at `lastLife` now */
  isCatchingUp: Type.Boolean(),
});
export type GatewayTelemetry = Static<typeof GatewayTelemetry>;

export const PointTelemetry = Type.Object({
  site: Id,
  device: Id,
  signal: Type.String(),
  kind: choice('contact', 'analog'),
  measure: Type.String(),
  gateway: Id,
  /** as configured: how often it should be heard, s; null: on change */
  polledSeconds: nullable(Type.Number()),
  state: choice('heard', 'silent', 'never'),
  silentSince: nullable(IsoInstant),
  last: nullable(
    Type.Object({
      t: IsoInstant,
      /** contacts: 1 asserted, 0 not; else scaled */
      v: Type.Number(),
      quality: choice('good', 'uncertain', 'bad'),
    }),
  ),
  /** a value without a time that may have waited on its way */
  lastHeard: nullable(Type.Object({ t: IsoInstant, v: Type.Number() })),
  /** samples a minute in the ten minutes up to the last one */
  perMinute: Type.Number(),
  /** its newest samples within the day up to the last one, at most 5,000; `seconds` from the first of them */
  day: Type.Object({
    samples: Count,
    seconds: Type.Number(),
    uncertain: Count,
    bad: Count,
    conflicts: Count,
  }),
});
export type PointTelemetry = Static<typeof PointTelemetry>;

/** What was set aside in the last 24 h for one reason. */
const SetAsideReason = Type.Object({
  reason: Type.String(),
  says: Type.String(),
  todo: Type.String(),
  count: Count,
  topics: Count,
  /** the newest of them: its payload as in `GET /api/rejected` */
  newest: Type.Object({
    t: IsoInstant,
    topic: Type.String(),
    detail: Type.String(),
    payload: Type.String(),
    encoding: choice('utf-8', 'hex'),
    payloadBytes: Count,
  }),
});
export type SetAsideReason = Static<typeof SetAsideReason>;

const SetAside = Type.Object({ count: Count, topics: Count, reasons: Type.Array(SetAsideReason) });

const SiteTelemetry = Type.Object({
  id: Id,
  name: Type.String(),
  /** the same first line as the site's own answer has, without what was set aside */
  says: Type.String(),
  isWell: Type.Boolean(),
  ...Counted.properties,
});

export const TelemetryAnswer = Type.Object({
  serverTime: IsoInstant,
  says: Type.String(),
  counts: Counted,
  /** the one that was asked for */
  site: nullable(Type.Object({ id: Id, name: Type.String(), timeZone: Type.String() })),
  /** where no site was asked for: a page of them */
  sites: Type.Array(SiteTelemetry),
  gateways: Type.Array(GatewayTelemetry),
  setAside: SetAside,
  /** of one site: a page of its points */
  items: Type.Array(PointTelemetry),
  cursor: nullable(Type.String()),
});
export type TelemetryAnswer = Static<typeof TelemetryAnswer>;

export const TELEMETRY_STATES = ['silent', 'never', 'odd'] as const;
export type TelemetryState = (typeof TELEMETRY_STATES)[number];
