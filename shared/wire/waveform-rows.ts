import Type, { type Static } from 'typebox';
import { formatInstant, type Instant } from '../base/instant.ts';
import { LONGEST_WAVEFORM_SECONDS, MOST_WAVEFORM_VALUES } from '../telemetry/waveform.ts';
import { writerOf } from './export-rows.ts';
import { fault, noTime, pointFault, shown, type Given, type RowForm } from './import-row.ts';
import { IsoInstant } from './schema.ts';

/** Waveforms as files: a line for each, of a point in order of time, with all its values; back from them the same to the bit. */
const WAVEFORM_COLUMNS = ['site', 'point', 't', 'stepSeconds', 'scale', 'values'] as const;

export interface ExportedWaveform {
  readonly point: string;
  readonly t: Instant;
  readonly stepSeconds: number;
  readonly scale: number;
  readonly values: Float32Array;
}

export const WaveformImportRow = Type.Object({
  point: Type.String({ maxLength: 127, description: '<device>/<signal>' }),
  t: IsoInstant,
  stepSeconds: Type.Number({ exclusiveMinimum: 0 }),
  scale: Type.Number(),
  values: Type.Array(Type.Number(), { minItems: 1, maxItems: MOST_WAVEFORM_VALUES }),
});
export type WaveformImportRow = Static<typeof WaveformImportRow>;

const written = ({ point, t, stepSeconds, scale, values }: ExportedWaveform): WaveformImportRow => ({
  point,
  t: formatInstant(t),
  stepSeconds,
  scale,
  values: [...values],
});

const cellsOf = (site: string, row: ExportedWaveform) => {
  const { point, t, stepSeconds, scale, values } = written(row);
  return [site, point, t, stepSeconds, scale, JSON.stringify(values)];
};

export const waveformsWriter = writerOf<ExportedWaveform>({
  columns: WAVEFORM_COLUMNS,
  written,
  cells: cellsOf,
});

export const WAVEFORM_FORM: RowForm<WaveformImportRow> = {
  holds: 'waveforms',
  columns: WAVEFORM_COLUMNS,
  ofCells: (cell) => ({
    point: cell('point'),
    t: cell('t'),
    stepSeconds: Number(cell('stepSeconds')),
    scale: Number(cell('scale')),
    values: arrayIn(cell('values')),
  }),
  read: ({ point, t, stepSeconds, scale, values }: Given) => {
    const says = pointFault(point) ?? noTime(t);
    if (says !== null) return fault(says);
    if (!Array.isArray(values) || values.length === 0 || !values.every(isNumber))
      return fault(`${shown(values)} are no values: give a list of numbers.`);
    if (!isNumber(stepSeconds) || stepSeconds <= 0 || stepSeconds * values.length > LONGEST_WAVEFORM_SECONDS)
      return fault(
        `${shown(stepSeconds)} s between values: give what ends within ${LONGEST_WAVEFORM_SECONDS} s.`,
      );
    if (values.length > MOST_WAVEFORM_VALUES)
      return fault(`${values.length} values are more than ${MOST_WAVEFORM_VALUES}: cut it in two.`);
    if (!isNumber(scale) || scale === 0)
      return fault(`${shown(scale)} is no scale: give a number that isn’t 0.`);
    return { kind: 'row', row: { point, t, stepSeconds, scale, values } as WaveformImportRow };
  },
};

const isNumber = (value: unknown): value is number => typeof value === 'number' && Number.isFinite(value);

function arrayIn(cell: string): unknown {
  try {
    return JSON.parse(cell);
  } catch {
    return cell;
  }
}
