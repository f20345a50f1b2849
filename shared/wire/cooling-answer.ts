import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** How a site is cooled: `GET /api/sites/:site/cooling` (handbook 6). Bounds are [least, most]. */
const Bounds = Type.Unsafe<readonly [number, number]>({
  type: 'array',
  items: { type: 'number' },
  minItems: 2,
  maxItems: 2,
});

const Distribution = Type.Object({
  count: Count,
  least: Bounds,
  lowerQuarter: Bounds,
  median: Bounds,
  upperQuarter: Bounds,
  most: Bounds,
  mean: Bounds,
});

export const UnitCycling = Type.Object({
  id: Id,
  /** the window that was counted; it ends where the unit is known through */
  from: IsoInstant,
  to: IsoInstant,
  knownSeconds: Type.Number({ description: 'in which it was known whether it ran' }),
  unknownSeconds: Type.Number({ description: 'left out' }),
  runFraction: nullable(Bounds),
  starts: Count,
  startsPerHour: nullable(Type.Number()),
  mostInAnHour: Count,
  on: nullable(Distribution),
  off: nullable(Distribution),
  cut: Type.Integer({
    description: 'runs and rests cut by the window or by a stretch of not knowing, left out',
  }),
  curve: nullable(Bounds),
  hours: Type.Array(Type.Object({ from: IsoInstant, fraction: Bounds, starts: Type.Number() })),
});
export type UnitCycling = Static<typeof UnitCycling>;

/** latest null: can't be told */
const reached = { soonest: IsoInstant, latest: nullable(IsoInstant) };

export const SpaceCooling = Type.Object({
  id: Id,
  name: Type.String(),
  units: Type.Array(Id),
  limit: nullable(Type.Number()),
  measured: Type.Boolean({ description: 'is its temperature wired, and known now' }),
  outdoorsMeasured: Type.Boolean(),
  /** null: nothing folded yet */
  load: nullable(Type.Object({ seconds: Type.Number(), sum: nullable(Bounds), fewest: nullable(Count) })),
  /** stretches without any unit running that are remembered; null fit: too few to fit */
  offPeriods: Count,
  fit: nullable(
    Type.Object({
      masses: choice('one', 'two'),
      offPeriods: Count,
      longestSeconds: Type.Number(),
      slowSeconds: Bounds,
      aboveKelvin: Bounds,
      spreadKelvin: Type.Number(),
    }),
  ),
  /** were nothing cooled from its newest sample on */
  without: nullable(Type.Object({ ...reached, by: Type.String() })),
  /** forecast while units can't run */
  forecast: nullable(Type.Object(reached)),
  unable: Type.Array(Id),
  risePerHour: nullable(Type.Number()),
});
export type SpaceCooling = Static<typeof SpaceCooling>;

export const CoolingAnswer = Type.Object({
  site: Id,
  serverTime: IsoInstant,
  outdoors: nullable(Type.Number()),
  /** the site's spaces over the last hour that is known */
  comparison: Type.Object({
    known: Count,
    withoutStop: Count,
    faster: Type.Array(Type.Object({ id: Id, by: Type.Number() })),
  }),
  spaces: Type.Array(SpaceCooling),
  units: Type.Array(UnitCycling),
});
export type CoolingAnswer = Static<typeof CoolingAnswer>;
