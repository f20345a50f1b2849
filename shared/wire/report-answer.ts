import Type, { type Static } from 'typebox';
import { Count, Id, IsoInstant, nullable } from './schema.ts';

/** A month in figures, of one site or of all in scope: cooling, what the units did, what the supply did. */
const Seconds = Type.Number({ minimum: 0, description: 's' });
const Share = nullable(Type.Number({ minimum: 0, maximum: 1, description: 'null: too little is known' }));
const Counts = Type.Record(Type.String(), Count);
const Lockouts = Type.Object({ all: Count, causes: Counts });

const Did = {
  runSeconds: Seconds,
  starts: Count,
  shortCycles: Count,
  softLockouts: Lockouts,
  hardLockouts: Lockouts,
  undervoltageHolds: Count,
  contactorFaults: Type.Integer({ minimum: 0, description: 'failed starts and stuck contactors' }),
};

const Supply = Type.Object({
  sags: Counts,
  swells: Counts,
  interruptions: Counts,
  restarts: Count,
  together: Type.Integer({ minimum: 0, description: 'restarts closer together than the panel’s minimum' }),
});

const WireTotals = Type.Object({
  sites: Count,
  spaces: Count,
  units: Count,
  availability: Share,
  untold: Type.Integer({ minimum: 0, description: 'spaces of which availability can’t be told' }),
  lostSeconds: Seconds,
  hotSeconds: Seconds,
  ...Did,
  supply: Supply,
});
export type WireTotals = Static<typeof WireTotals>;

const WireUnit = Type.Object({ id: Id, name: Type.String(), ...Did });
export type WireReportUnit = Static<typeof WireUnit>;

const WireSpace = Type.Object({
  id: Id,
  name: Type.String(),
  availability: Share,
  lostSeconds: Seconds,
  reducedSeconds: Seconds,
  hotSeconds: Seconds,
});

export const ReportAnswer = Type.Object({
  month: Type.String({ description: 'as 2026-10; each site’s by its own wall' }),
  site: nullable(Id),
  siteName: nullable(Type.String()),
  /** false: the month isn’t over everywhere */
  isOver: Type.Boolean(),
  /** false: there are more sites than are reported at once */
  whole: Type.Boolean(),
  totals: WireTotals,
  before: Type.Object({
    month: Type.String(),
    /** null: nothing was heard then */
    totals: nullable(WireTotals),
  }),
  /** share of the month that was listened to, of all sites */
  known: Share,
  worst: Type.Array(Type.Object({ site: Id, siteName: Type.String(), unit: WireUnit })),
  /** where it is of all sites: each, the least available first */
  sites: Type.Array(Type.Object({ id: Id, name: Type.String(), totals: WireTotals })),
  /** where it is of one site */
  spaces: Type.Array(WireSpace),
  units: Type.Array(WireUnit),
  from: nullable(IsoInstant),
  to: nullable(IsoInstant),
  timeZone: nullable(Type.String()),
  serverTime: IsoInstant,
});
export type ReportAnswer = Static<typeof ReportAnswer>;
