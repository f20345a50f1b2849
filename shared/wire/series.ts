import Type, { type Static } from 'typebox';
import { WireSignal } from './event-answer.ts';
import { choice, Id, IsoInstant, nullable } from './schema.ts';

/** Samples as they came, and series at drawn size (contract section 5). */

export const SampleAnswer = Type.Object({
  t: IsoInstant,
  /** as it was sent: a contact's raw 1 is closed, before polarity and scale */
  v: Type.Number(),
  q: choice('good', 'uncertain', 'bad'),
  /** different values were sent for this point and instant */
  conflict: Type.Optional(Type.Literal(true)),
});
export type SampleAnswer = Static<typeof SampleAnswer>;

export const SampleList = Type.Object({ items: Type.Array(SampleAnswer), cursor: nullable(Type.String()) });
export type SampleList = Static<typeof SampleList>;

const Stretch = Type.Object({ from: IsoInstant, to: IsoInstant });

const seriesParts = {
  device: Id,
  signal: WireSignal,
  name: Type.String(),
  /** stretches over which nothing is known: silence, or samples that decide nothing */
  unknown: Type.Array(Stretch),
};

/**
 * One entry for each drawn pixel that has samples. A pixel with one sample has min = mean = max = last. What reports on
 * change holds `last` until the next entry.
 */
export const AnalogSeries = Type.Object({
  kind: Type.Literal('analog'),
  measure: choice('V', 'A', '°C'),
  ...seriesParts,
  t: Type.Array(IsoInstant),
  min: Type.Array(Type.Number()),
  max: Type.Array(Type.Number()),
  mean: Type.Array(Type.Number()),
  last: Type.Array(Type.Number()),
  /** seconds without a sample after which the line is broken */
  breakAfter: Type.Number(),
});
export type AnalogSeries = Static<typeof AnalogSeries>;

/**
 * Exact steps: from `t[i]` on the contact is `v[i]` (1 asserted, 0 not, polarity applied). The change happened in
 * (earliest[i], t[i]]. The first step may lie before the range: the state that the range begins with. Where there are more
 * steps than can be drawn, `crowded` stretches stand for many changes.
 */
export const ContactSeries = Type.Object({
  kind: Type.Literal('contact'),
  ...seriesParts,
  t: Type.Array(IsoInstant),
  earliest: Type.Array(IsoInstant),
  v: Type.Array(Type.Union([Type.Literal(0), Type.Literal(1)])),
  crowded: Type.Array(Stretch),
  /** through when the last state is known to hold */
  knownThrough: nullable(IsoInstant),
});
export type ContactSeries = Static<typeof ContactSeries>;

export const SeriesAnswer = Type.Object({
  site: Id,
  device: Id,
  from: IsoInstant,
  to: IsoInstant,
  width: Type.Integer(),
  series: Type.Array(Type.Union([AnalogSeries, ContactSeries])),
});
export type SeriesAnswer = Static<typeof SeriesAnswer>;
