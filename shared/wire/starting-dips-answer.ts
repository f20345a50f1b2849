import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable, WireBounds, WireSpan } from './schema.ts';

/** What starts do to a panel's voltage: those seen, the source fitted from them, what starts together would do. */
const DropOut = choice('holds', 'drops', 'unsure');

const StartOutcome = choice('seen', 'too-slow', 'unsteady', 'no-voltage', 'together', 'generator');

const StartSeen = Type.Object({
  event: Type.String(),
  unit: Id,
  at: WireSpan,
  outcome: StartOutcome,
  before: nullable(Type.Number({ description: 'V' })),
  during: nullable(Type.Number({ description: 'V; where the meter is too slow, the lowest that was read' })),
  dip: nullable(Type.Number({ description: 'share of the voltage before' })),
});
export type StartSeen = Static<typeof StartSeen>;

const Prediction = Type.Object({
  supply: choice('utility', 'generator'),
  units: Type.Array(Id),
  volts: WireBounds,
  dip: WireBounds,
  /** each unit of the panel at this voltage */
  dropOuts: Type.Array(Type.Object({ unit: Id, verdict: nullable(DropOut) })),
  /** against the panel's limit */
  staysAbove: choice('yes', 'no', 'unsure'),
  says: Type.String(),
});
export type StartPredictionAnswer = Static<typeof Prediction>;

const Grace = Type.Object({
  kind: choice('none-needed', 'suggested', 'refused'),
  why: nullable(Type.String()),
  seconds: nullable(Type.Number()),
  longest: nullable(
    Type.Number({ description: 's; the longest that the voltage was seen below trip after a start' }),
  ),
  starts: Count,
  now: Type.Number({ description: 's; as recorded or assumed' }),
  says: Type.String(),
});

const UnitStarts = Type.Object({
  id: Id,
  name: Type.String(),
  starts: Count,
  dip: nullable(WireBounds),
  lockedRotorAmps: nullable(WireBounds),
  tripVolts: nullable(Type.Number()),
  ratio: nullable(WireBounds),
  /** line V below which its control lets go */
  dropLine: nullable(WireBounds),
  grace: Grace,
});
export type UnitStarts = Static<typeof UnitStarts>;

export const StartingDipsAnswer = Type.Object({
  site: Id,
  panel: Id,
  name: Type.String(),
  serverTime: IsoInstant,
  from: IsoInstant,
  to: IsoInstant,
  nominalVoltage: Type.Number(),
  limitVolts: Type.Number(),
  voltage: nullable(Type.Object({ signal: Type.String(), everySeconds: nullable(Type.Number()) })),
  /** the panel's steady voltage in sentences: beside ANSI C84.1, and between its legs; empty: none was read */
  level: Type.Array(Type.String()),
  says: Type.String(),
  /** what these meters let one know, and what would let one know more */
  knows: Type.Array(Type.String()),
  source: nullable(
    Type.Object({
      by: choice('starts', 'record'),
      starts: Count,
      ohms: nullable(WireBounds),
      availableAmps: nullable(WireBounds),
      recordedOhms: nullable(Type.Number()),
      before: Type.Number(),
    }),
  ),
  predictions: Type.Array(Prediction),
  units: Type.Array(UnitStarts),
  starts: Type.Array(StartSeen),
  cautions: Type.Array(Type.String()),
});
export type StartingDipsAnswer = Static<typeof StartingDipsAnswer>;
