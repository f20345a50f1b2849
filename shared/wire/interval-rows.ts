import Type, { type Static } from 'typebox';
import { formatInstant, parseInstant } from '../base/instant.ts';
import type { Interval } from '../telemetry/interval.ts';
import { isConflict, qualityWord } from '../telemetry/sample.ts';
import { writerOf } from './export-rows.ts';
import { fault, noTime, pointFault, qualityFault, shown, type Given, type RowForm } from './import-row.ts';
import { choice, IsoInstant } from './schema.ts';

/** What meters saw between two times, as files: a line for each, of a point in order of its end; back from them the same. */
const INTERVAL_COLUMNS = [
  ...(['site', 'point', 'from', 'to', 'least', 'most', 'mean', 'quality', 'conflict'] as const),
];

export interface ExportedInterval extends Interval {
  readonly point: string;
}

export const IntervalImportRow = Type.Object({
  point: Type.String({ maxLength: 127, description: '<device>/<signal>' }),
  from: IsoInstant,
  to: IsoInstant,
  least: Type.Number(),
  most: Type.Number(),
  mean: Type.Optional(Type.Number({ description: 'left out where the meter gave none' })),
  quality: choice('good', 'uncertain', 'bad'),
  conflict: Type.Boolean({ description: 'different values were sent for this point and stretch' }),
});
export type IntervalImportRow = Static<typeof IntervalImportRow>;

const written = ({ point, from, to, least, most, mean, quality }: ExportedInterval): IntervalImportRow => ({
  point,
  from: formatInstant(from),
  to: formatInstant(to),
  least,
  most,
  ...(mean === null ? {} : { mean }),
  quality: qualityWord(quality),
  conflict: isConflict(quality),
});

const cellsOf = (site: string, row: ExportedInterval) => {
  const { point, from, to, least, most, mean, quality, conflict } = written(row);
  return [site, point, from, to, least, most, mean ?? null, quality, conflict ? 1 : 0];
};

export const intervalsWriter = writerOf<ExportedInterval>({
  columns: INTERVAL_COLUMNS,
  written,
  cells: cellsOf,
});

export const INTERVAL_FORM: RowForm<IntervalImportRow> = {
  holds: 'intervals',
  columns: INTERVAL_COLUMNS,
  ofCells: (cell) => ({
    ...{ point: cell('point'), from: cell('from'), to: cell('to'), quality: cell('quality') },
    ...{ least: numberIn(cell('least')), most: numberIn(cell('most')), mean: numberIn(cell('mean')) },
    conflict: { '': false, 0: false, 1: true }[cell('conflict')] ?? cell('conflict'),
  }),
  read: ({ point, from, to, least, most, mean = null, quality = 'good', conflict = false }: Given) => {
    const says = pointFault(point) ?? noTime(from) ?? noTime(to) ?? qualityFault(quality, conflict);
    if (says !== null) return fault(says);
    if (parseInstant(from as string)! > parseInstant(to as string)!)
      return fault('It ends before it begins: turn from and to about.');
    if (!isNumber(least) || !isNumber(most) || (mean !== null && !isNumber(mean)) || least > most)
      return fault(
        `${shown([least, most, mean])} is no least, most and mean: give three numbers, the mean may be missing.`,
      );
    const given = { point, from, to, least, most, ...(mean === null ? {} : { mean }), quality, conflict };
    return { kind: 'row', row: given as IntervalImportRow };
  },
};

const isNumber = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);
const numberIn = (cell: string): number | null => (cell.trim() === '' ? null : Number(cell));
