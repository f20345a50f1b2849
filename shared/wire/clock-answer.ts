import Type, { type Static } from 'typebox';
import { WireCertainty } from './event-answer.ts';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** What can be said of a site's gateways' clocks: `GET /api/sites/:site/clocks`. */
const Bounds = Type.Unsafe<readonly [number, number]>({
  type: 'array',
  items: { type: 'number' },
  minItems: 2,
  maxItems: 2,
});

const Seen = Type.Object({
  gateway: Id,
  device: Id,
  signal: Type.String(),
  earliest: IsoInstant,
  latest: IsoInstant,
});

export const ClockAnswer = Type.Object({
  gateway: Id,
  /** null: against our own clock */
  against: nullable(Id),
  /** the whole of it in a sentence, times in UTC */
  says: Type.String(),
  /** beyond the offsets that are configured; negative: behind */
  aheadSeconds: Bounds,
  certainty: WireCertainty,
  /** `either`: only the edges tell, and not which of the two clocks is off */
  whose: choice('shown', 'either'),
  /** by when its messages arrive, in stretches of ten minutes */
  arrival: nullable(
    Type.Object({
      from: IsoInstant,
      to: IsoInstant,
      stretches: Count,
      messages: Count,
      aheadSeconds: Type.Number(),
    }),
  ),
  /** edges of one outage that both gateways saw, each on its own clock */
  edges: Type.Array(Type.Object({ to: choice('away', 'back'), here: Seen, there: Seen })),
  correction: Type.Object({
    /** the claimed time from which the offset counts, or `always` */
    from: Type.String(),
    seconds: Type.Number(),
    /** where it goes in the site's document */
    pointer: Type.String(),
    /** what stands there then, as JSON */
    lines: Type.String(),
  }),
});
export type ClockAnswer = Static<typeof ClockAnswer>;

export const ClockList = Type.Object({ items: Type.Array(ClockAnswer), cursor: nullable(Type.String()) });
export type ClockList = Static<typeof ClockList>;
