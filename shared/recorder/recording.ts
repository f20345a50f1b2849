import type { FileFault } from './file-fault.ts';

/**
 * What a recorder's file holds (IEEE C37.111-1991, -1999, -2013 = IEC 60255-24; "COMTRADE"), read whole: names, scaled
 * values, when each sample was taken. The clock on the wall is the file's own and mostly without a zone; whoever takes the
 * recording in says which zone it is.
 */
export interface Recording {
  readonly station: string;
  readonly device: string;
  readonly revision: Revision;
  /** nominal, Hz; null: the file doesn't say */
  readonly frequency: number | null;
  readonly format: DataFormat;
  readonly analog: readonly AnalogChannel[];
  readonly digital: readonly DigitalChannel[];
  /** seconds from the first sample, never falling */
  readonly times: Float64Array;
  /** samples a second, for each stretch of one rate; empty where the time stamps alone tell */
  readonly rates: readonly SampleRate[];
  /** of the first sample; null: not told, or absurd */
  readonly start: LocalStamp | null;
  /** null: not told, or absurd */
  readonly trigger: LocalStamp | null;
  /** how far the file's own clock is ahead of UTC; null: it doesn't say (before 2013 none does) */
  readonly utcOffsetSeconds: number | null;
}

export type Revision = 1991 | 1999 | 2013;

export const DATA_FORMATS = ['ASCII', 'BINARY', 'BINARY32', 'FLOAT32'] as const;
export type DataFormat = (typeof DATA_FORMATS)[number];

export interface SampleRate {
  readonly perSecond: number;
  /** number of the last sample at this rate, counted from 1 */
  readonly last: number;
}

/** A wall-clock time without a zone, as whole microseconds from 1970-01-01 00:00 on that clock. */
export interface LocalStamp {
  readonly micros: number;
}

export interface AnalogChannel {
  readonly name: string;
  readonly phase: string;
  /** as the file writes it: `V`, `kV`, `ampere` */
  readonly measure: string;
  /** value = multiplier · stored + offset, in `measure` */
  readonly multiplier: number;
  readonly offset: number;
  /** seconds by which this channel is sampled later than the sample's own time */
  readonly skewSeconds: number;
  /** ratio of the measuring transformer; 1 and 1 where there is none or the file doesn't say */
  readonly primary: number;
  readonly secondary: number;
  /** whether the values are of the primary or of the secondary side */
  readonly side: 'primary' | 'secondary';
  /** scaled, in `measure`; NaN: missing */
  readonly values: Float64Array;
}

export interface DigitalChannel {
  readonly name: string;
  readonly normally: 0 | 1;
  readonly first: 0 | 1;
  /** indexes of samples at which it changed */
  readonly changes: readonly number[];
}

export type ReadOutcome =
  | { readonly kind: 'recording'; readonly recording: Recording; readonly faults: readonly FileFault[] }
  /** nothing can be made of it: the faults say why, and what would help */
  | { readonly kind: 'refused'; readonly faults: readonly FileFault[] };
