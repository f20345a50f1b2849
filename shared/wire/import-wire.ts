import Type, { type Static, type TSchema } from 'typebox';
import { IntervalImportRow } from './interval-rows.ts';
import { SLUG } from './site-document.ts';
import { choice, Count, IsoInstant } from './schema.ts';
import { WaveformImportRow } from './waveform-rows.ts';

/** Samples, intervals and waveforms that come back from a file, a batch at a time. */
export const IMPORT_ROWS = 5000;

const ImportRow = Type.Object({
  point: Type.String({ maxLength: 127, description: '<device>/<signal>' }),
  t: IsoInstant,
  v: Type.Number(),
  q: Type.Optional(choice('good', 'uncertain', 'bad')),
  conflict: Type.Optional(
    Type.Boolean({ description: 'different values were sent for this point and instant' }),
  ),
});
export type ImportRow = Static<typeof ImportRow>;

const askOf = <Row extends TSchema>(row: Row) =>
  Type.Object({
    site: Type.String({ pattern: SLUG }),
    dryRun: Type.Optional(Type.Boolean({ description: 'look for faults and write nothing' })),
    rows: Type.Array(row, { minItems: 1, maxItems: IMPORT_ROWS }),
  });

export const ImportAsk = askOf(ImportRow);
export type ImportAsk = Static<typeof ImportAsk>;
export const IntervalImportAsk = askOf(IntervalImportRow);
export type IntervalImportAsk = Static<typeof IntervalImportAsk>;
export const WaveformImportAsk = askOf(WaveformImportRow);
export type WaveformImportAsk = Static<typeof WaveformImportAsk>;

export const ImportAnswer = Type.Object({
  /** rows without a fault */
  taken: Count,
  /** rows that were new or changed what was there; 0 in a dry run */
  changed: Count,
  faults: Type.Array(
    Type.Object({
      row: Type.Integer({ minimum: 0, description: 'its place in `rows`' }),
      says: Type.String({ maxLength: 400 }),
    }),
  ),
});
export type ImportAnswer = Static<typeof ImportAnswer>;
