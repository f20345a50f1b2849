import Type, { type Static } from 'typebox';
import { choice, IsoInstant, nullable } from './schema.ts';

/** Waveforms as they are kept, with the half-cycle RMS values that were taken from them (contract 1.1). */
export const WaveformAnswer = Type.Object({
  /** of the first value, as it was sent */
  t0: IsoInstant,
  /** seconds between two values */
  dt: Type.Number(),
  measure: choice('V', 'A'),
  /** instantaneous values, scaled */
  w: Type.Array(Type.Number()),
});
export type WaveformAnswer = Static<typeof WaveformAnswer>;

export const WaveformList = Type.Object({
  items: Type.Array(WaveformAnswer),
  cursor: nullable(Type.String()),
});
export type WaveformList = Static<typeof WaveformList>;
