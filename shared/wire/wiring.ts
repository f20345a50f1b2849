import Type, { type Static } from 'typebox';
import { choice, Count, Id, IsoInstant, nullable } from './schema.ts';

/** What is talking and not mapped: `GET /api/sites/:site/wiring`. */

const WireGuess = Type.Object({
  signal: Type.String(),
  device: nullable(Id),
  certainty: choice('certain', 'probable', 'possible'),
  because: Type.String(),
});

export const HeardAnswer = Type.Object({
  topic: Type.String(),
  kind: choice('topic', 'sparkplug'),
  pointer: Type.String(),
  time: nullable(Type.String()),
  count: Count,
  firstAt: IsoInstant,
  lastAt: IsoInstant,
  last: Type.String(),
  form: choice('contact', 'number', 'text', 'time'),
  perMinute: nullable(Type.Number()),
  least: nullable(Type.Number()),
  most: nullable(Type.Number()),
  steps: Count,
  /** who said that it is of no use */
  ignoredBy: nullable(Type.String()),
  guess: nullable(WireGuess),
});
export type HeardAnswer = Static<typeof HeardAnswer>;

const ListeningAnswer = Type.Object({
  filters: Type.Array(Type.String()),
  until: IsoInstant,
  askedBy: Type.String(),
});

export const WiringAnswer = Type.Object({
  serverTime: IsoInstant,
  listening: nullable(ListeningAnswer),
  /** at most 5,000; those that a point of the site maps are left out */
  items: Type.Array(HeardAnswer),
  /** no more is taken: something heard for the first time now isn't shown */
  isFull: Type.Boolean(),
});
export type WiringAnswer = Static<typeof WiringAnswer>;

/** Topics below a first word of their own, never all there are. */
const FILTER = '^[^+#/$]+(/([^+#/]+|\\+))*(/#)?$';
export const ListeningAsk = Type.Object({
  filters: Type.Array(Type.String({ pattern: FILTER, maxLength: 200 }), { minItems: 1, maxItems: 10 }),
  minutes: Type.Integer({ minimum: 1, maximum: 60 }),
});

export const IgnoreAsk = Type.Object({
  topic: Type.String({ maxLength: 2000 }),
  pointer: Type.String({ maxLength: 2000 }),
  ignore: Type.Boolean(),
});
