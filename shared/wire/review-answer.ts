import Type, { type Static } from 'typebox';
import type { PowerEventKind } from '../review/group.ts';
import type { RideOutcome } from '../review/ride-through.ts';
import { choice, Count, Id, IsoInstant, nullable, WireBounds, WireSpan } from './schema.ts';

/** Power events and their reviews (contract 5): what the supply did, and what every unit did because of it. */
const KINDS: Record<PowerEventKind, true> = {
  outage: true,
  sag: true,
  swell: true,
  'starting-dip': true,
  generator: true,
};
const RIDES: Record<RideOutcome, true> = {
  dropped: true,
  'rode-through': true,
  held: true,
  'not-running': true,
  'not-known': true,
};
const WirePowerEventKind = choice(...(Object.keys(KINDS) as PowerEventKind[]));
const WireVerdict = choice('separate', 'simultaneous', 'cannot-be-told');

const head = {
  /** the id of its first event; it answers to the id of each of its events, and of those that they replaced */
  id: Id,
  kind: WirePowerEventKind,
  title: Type.String(),
  start: WireSpan,
  /** null: it isn’t over, as far as is known */
  end: nullable(IsoInstant),
  /** through the last restart; null: still under way */
  settled: nullable(IsoInstant),
  /** the lowest voltage that was measured, per unit of declared; null: not measured */
  lowest: nullable(Type.Number()),
};

export const PowerEventItem = Type.Object({
  ...head,
  sites: Type.Array(Type.Object({ id: Id, name: Type.String(), timeZone: Type.String(), panels: Count })),
});
export type PowerEventItem = Static<typeof PowerEventItem>;

export const PowerEventList = Type.Object({
  items: Type.Array(PowerEventItem),
  cursor: nullable(Type.String()),
  /** false: more happened than is read at once; ask for a shorter stretch */
  whole: Type.Boolean(),
  /** dips that units’ own starts made, left out unless asked for */
  startingDips: Count,
  serverTime: IsoInstant,
});
export type PowerEventList = Static<typeof PowerEventList>;

const WireTodo = Type.Object({
  kind: choice('latched', 'not-back', 'above-limit', 'stagger', 'poll-faster'),
  /** the unit, space or panel */
  device: Id,
  says: Type.String(),
});
export type WireTodo = Static<typeof WireTodo>;

const WireHighest = Type.Object({
  space: Id,
  name: Type.String(),
  value: Type.Number(),
  t: IsoInstant,
  limit: nullable(Type.Number()),
});

export const REVIEW_FILTERS = [
  'not-back',
  'above-limit',
  'together',
  'cannot-be-told',
  'separate',
  'rode-through',
  'not-known',
] as const;
export type ReviewFilter = (typeof REVIEW_FILTERS)[number];

const WireRow = Type.Object({
  site: Id,
  name: Type.String(),
  timeZone: Type.String(),
  start: WireSpan,
  end: nullable(IsoInstant),
  outages: Count,
  awaySeconds: WireBounds,
  generatorSeconds: WireBounds,
  /** from power’s return to the first and the last restart */
  restartSeconds: nullable(WireBounds),
  /** of the room that was longest without; null: not known */
  withoutCoolingSeconds: nullable(WireBounds),
  highest: nullable(WireHighest),
  verdict: nullable(WireVerdict),
  filters: Type.Array(choice(...REVIEW_FILTERS)),
  todo: Type.Array(WireTodo),
  /** gateways that haven’t delivered */
  missing: Type.Array(Id),
  strip: Type.Array(
    Type.Object({ state: choice('away', 'sag', 'generator', 'waiting'), from: IsoInstant, to: IsoInstant }),
  ),
  starts: Type.Array(Type.Object({ unit: Id, name: Type.String(), t: IsoInstant, together: Type.Boolean() })),
  /** returns of power, the last one last */
  returns: Type.Array(IsoInstant),
});
export type ReviewRow = Static<typeof WireRow>;

export const ReviewAnswer = Type.Object({
  ...head,
  headline: Type.String(),
  completeness: Type.Object({
    says: Type.String(),
    sites: Count,
    known: Count,
    through: IsoInstant,
    missing: Type.Array(
      Type.Object({ site: Id, name: Type.String(), gateway: Id, since: nullable(IsoInstant) }),
    ),
  }),
  counts: Type.Array(Type.Object({ filter: choice(...REVIEW_FILTERS), says: Type.String(), sites: Count })),
  /** worst first */
  rows: Type.Array(WireRow),
  /** what is reviewed ends here */
  until: IsoInstant,
  serverTime: IsoInstant,
});
export type ReviewAnswer = Static<typeof ReviewAnswer>;

const WireRestart = Type.Object({
  event: Id,
  panel: Id,
  name: Type.String(),
  back: WireSpan,
  supply: choice('utility', 'generator', 'not known'),
  minimumSeconds: Type.Number(),
  verdict: nullable(WireVerdict),
  units: Type.Array(
    Type.Object({
      unit: Id,
      name: Type.String(),
      outcome: Type.String(),
      plannedSeconds: nullable(WireBounds),
      startedSeconds: nullable(WireBounds),
      deviationSeconds: nullable(WireBounds),
      setBy: nullable(choice('wait', 'call', 'unknown')),
    }),
  ),
  spacings: Type.Array(
    Type.Object({
      first: Id,
      second: Id,
      names: Type.String(),
      seconds: WireBounds,
      verdict: WireVerdict,
      tellingPeriodSeconds: nullable(Type.Number()),
    }),
  ),
});
export type WireRestart = Static<typeof WireRestart>;

const WireMargin = Type.Object({
  ratio: Type.Number(),
  by: choice('trip', 'contactor'),
  volts: WireBounds,
  perUnit: WireBounds,
  known: choice('assumed', 'recorded'),
});

const WireSusceptibility = Type.Object({
  events: Count,
  drops: Count,
  droppedAt: nullable(WireBounds),
  rodeAt: nullable(WireBounds),
  level: nullable(WireBounds),
  contradicts: Type.Boolean(),
});

const WireRide = Type.Object({
  unit: Id,
  name: Type.String(),
  outcome: choice(...(Object.keys(RIDES) as RideOutcome[])),
  because: nullable(Type.String()),
  drops: Count,
  restarted: nullable(WireSpan),
  withoutCoolingSeconds: WireBounds,
  stillOff: Type.Boolean(),
  waits: Type.Boolean(),
  evidence: Type.Array(Id),
  margin: nullable(WireMargin),
  susceptibility: nullable(WireSusceptibility),
});
export type WireRide = Static<typeof WireRide>;

const WireRoom = Type.Object({
  space: Id,
  name: Type.String(),
  withoutCoolingSeconds: nullable(WireBounds),
  highest: nullable(WireHighest),
});
export type WireRoom = Static<typeof WireRoom>;

export const SiteReviewAnswer = Type.Object({
  ...head,
  site: Id,
  name: Type.String(),
  timeZone: Type.String(),
  headline: Type.String(),
  sentences: Type.Array(Type.Object({ text: Type.String(), evidence: Type.Array(Id) })),
  restarts: Type.Array(WireRestart),
  units: Type.Array(WireRide),
  rooms: Type.Array(WireRoom),
  todo: Type.Array(WireTodo),
  missing: Type.Array(Id),
  /** the power event before it that reached this site, beside this one */
  earlier: nullable(
    Type.Object({
      id: Id,
      title: Type.String(),
      start: WireSpan,
      rows: Type.Array(Type.Object({ what: Type.String(), then: Type.String(), now: Type.String() })),
    }),
  ),
  /** what the chart shows at first */
  window: Type.Object({ from: IsoInstant, to: IsoInstant }),
  until: IsoInstant,
  serverTime: IsoInstant,
});
export type SiteReviewAnswer = Static<typeof SiteReviewAnswer>;
