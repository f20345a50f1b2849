import type { QualityWord } from '../telemetry/sample.ts';
import { EVENT_COLUMNS, EXPORT_VERSION, EXPORTED, SAMPLE_COLUMNS, type ExportHead } from './export-rows.ts';
import { fault, noTime, pointFault, qualityFault, shown, type Given, type RowForm } from './import-row.ts';
import { INTERVAL_FORM, type IntervalImportRow } from './interval-rows.ts';
import type { ImportRow } from './import-wire.ts';
import { WAVEFORM_FORM, type WaveformImportRow } from './waveform-rows.ts';

/**
 * Lines of a file that came out by export (export-rows.ts), read back one at a time. A line that isn't what the file
 * holds says why and what to do; nothing is guessed.
 */
export type ReadLine =
  | { readonly kind: 'row'; readonly site: string; readonly row: AnyRow }
  | { readonly kind: 'end'; readonly rows: number }
  | { readonly kind: 'fault'; readonly says: string };

export type AnyRow = ImportRow | IntervalImportRow | WaveformImportRow;

export interface RowsHead {
  readonly kind: 'rows';
  readonly holds: RowForm<AnyRow>['holds'];
  readonly format: 'csv' | 'ndjson';
  read(line: string): ReadLine;
}

/** How the lines after the first are read; or why the file can't be. */
export type ReadHead =
  | RowsHead
  | { readonly kind: 'events'; readonly head: ExportHead }
  | { readonly kind: 'refused'; readonly says: string };

const SAMPLE_FORM: RowForm<ImportRow> = {
  holds: 'samples',
  columns: SAMPLE_COLUMNS,
  ofCells: (cell) => ({
    ...{ point: cell('point'), t: cell('t'), q: cell('quality') || 'good' },
    v: cell('value').trim() === '' ? null : Number(cell('value')),
    conflict: { '': false, 0: false, 1: true }[cell('conflict')] ?? cell('conflict'),
  }),
  read: ({ point, t, v: value, q: quality = 'good', conflict = false }: Given) => {
    const says = pointFault(point) ?? noTime(t);
    if (says !== null) return fault(says);
    if (typeof value !== 'number' || !Number.isFinite(value))
      return fault(`${shown(value)} is no value: give a number; for one that is missing leave the line out.`);
    const wrong = qualityFault(quality, conflict);
    if (wrong !== null) return fault(wrong);
    const q = quality === 'good' ? {} : { q: quality as QualityWord };
    const row = { point, t, v: value, ...q, ...(conflict ? { conflict } : {}) } as ImportRow;
    return { kind: 'row', row };
  },
};

const FORMS: readonly RowForm<AnyRow>[] = [SAMPLE_FORM, INTERVAL_FORM, WAVEFORM_FORM];

export function readHead(first: string): ReadHead {
  const line = first.replace(/^\uFEFF/, '');
  return line.trimStart().startsWith('{') ? ndjsonHead(line) : csvHead(line);
}

const refused = (says: string): ReadHead => ({ kind: 'refused', says });

function ndjsonHead(line: string): ReadHead {
  const head = jsonOf(line) as Partial<ExportHead> | null;
  const holds = EXPORTED.find((one) => one === head?.holds);
  if (typeof head?.site !== 'string' || holds === undefined)
    return refused(
      'Its first line doesn’t say what it holds: it should read {"holds":"samples","version":1,"site":"…",…}, as the export writes it.',
    );
  if (head.version !== EXPORT_VERSION)
    return refused(
      `It is of version ${String(head.version)}; this program reads version ${EXPORT_VERSION}. Take a newer one.`,
    );
  const { site } = head;
  const form = FORMS.find((one) => one.holds === holds);
  if (!form) return { kind: 'events', head: head as ExportHead };
  return { kind: 'rows', holds: form.holds, format: 'ndjson', read: (line) => ndjsonLine(form, site, line) };
}

function csvHead(line: string): ReadHead {
  const columns = csvCells(line) ?? [];
  if (columns.join() === EVENT_COLUMNS.join())
    return refused(
      'It holds events as CSV, which leaves out what they rest on. Export them as NDJSON to compare them.',
    );
  const lacking = (form: RowForm<AnyRow>) =>
    form.columns.filter((name) => name !== 'conflict' && !columns.includes(name));
  const form = FORMS.find((one) => lacking(one).length === 0);
  if (!form)
    return refused(
      `Its first line lacks the columns ${lacking(SAMPLE_FORM).join(', ')}: it should read ${SAMPLE_COLUMNS.join(',')}.`,
    );
  return { kind: 'rows', holds: form.holds, format: 'csv', read: (line) => csvLine(form, columns, line) };
}

function ndjsonLine(form: RowForm<AnyRow>, site: string, line: string): ReadLine {
  const found = jsonOf(line);
  if (found === null) return fault('It is no JSON object: was the line cut short? Mend it or leave it out.');
  if (found['end'] === true) return { kind: 'end', rows: Number(found['rows']) };
  return lineOf(form, site, found);
}

function csvLine(form: RowForm<AnyRow>, columns: readonly string[], line: string): ReadLine {
  const cells = csvCells(line);
  if (cells === null) return fault('A quote is opened and not closed: close it, or leave the line out.');
  if (cells.length !== columns.length)
    return fault(`It has ${cells.length} cells for ${columns.length} columns: mend it or leave it out.`);
  const cell = (name: string) => cells[columns.indexOf(name)] ?? '';
  return lineOf(form, cell('site'), form.ofCells(cell));
}

const SLUG = /^[a-z0-9][a-z0-9-]{0,62}$/;

function lineOf(form: RowForm<AnyRow>, site: string, given: Given): ReadLine {
  if (!SLUG.test(site)) return fault(`${shown(site)} is no site: give its id, as in the configuration.`);
  const read = form.read(given);
  return read.kind === 'row' ? { ...read, site } : read;
}

function jsonOf(line: string): Record<string, unknown> | null {
  try {
    const found: unknown = JSON.parse(line);
    return typeof found === 'object' && found !== null && !Array.isArray(found)
      ? (found as Record<string, unknown>)
      : null;
  } catch {
    return null;
  }
}

/** The cells of one line (RFC 4180; none of ours holds a line break); null: a quote stands open. */
function csvCells(line: string): string[] | null {
  const cells: string[] = [];
  const cell = /(?:"((?:[^"]|"")*)"|([^",]*))(,|$)/y;
  for (;;) {
    const found = cell.exec(line);
    if (!found) return null;
    cells.push(found[1] === undefined ? found[2]! : found[1].replaceAll('""', '"'));
    if (found[3] === '') return cells;
  }
}
