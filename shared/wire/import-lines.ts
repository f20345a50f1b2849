import { parseInstant } from '../base/instant.ts';
import type { QualityWord } from '../telemetry/sample.ts';
import { EVENT_COLUMNS, EXPORT_VERSION, SAMPLE_COLUMNS, type ExportHead } from './export-rows.ts';
import type { ImportRow } from './import-wire.ts';

/**
 * Lines of a file that came out by export (export-rows.ts), read back one at a time. A line that isn't a sample says why
 * and what to do; nothing is guessed.
 */
export type ReadLine =
  | { readonly kind: 'row'; readonly site: string; readonly row: ImportRow }
  | { readonly kind: 'end'; readonly rows: number }
  | { readonly kind: 'fault'; readonly says: string };

/** How the lines after the first are read; or why the file can't be. */
export type ReadHead =
  | { readonly kind: 'samples'; readonly format: 'csv' | 'ndjson'; read(line: string): ReadLine }
  | { readonly kind: 'events'; readonly head: ExportHead }
  | { readonly kind: 'refused'; readonly says: string };

export function readHead(first: string): ReadHead {
  const line = first.replace(/^\uFEFF/, '');
  return line.trimStart().startsWith('{') ? ndjsonHead(line) : csvHead(line);
}

const refused = (says: string): ReadHead => ({ kind: 'refused', says });

function ndjsonHead(line: string): ReadHead {
  const head = jsonOf(line) as Partial<ExportHead> | null;
  if (typeof head?.site !== 'string' || (head.holds !== 'samples' && head.holds !== 'events'))
    return refused(
      'Its first line doesn’t say what it holds: it should read {"holds":"samples","version":1,"site":"…",…}, as the export writes it.',
    );
  if (head.version !== EXPORT_VERSION)
    return refused(
      `It is of version ${String(head.version)}; this program reads version ${EXPORT_VERSION}. Take a newer one.`,
    );
  const { site } = head;
  if (head.holds === 'events') return { kind: 'events', head: head as ExportHead };
  return { kind: 'samples', format: 'ndjson', read: (line) => ndjsonLine(site, line) };
}

function csvHead(line: string): ReadHead {
  const columns = csvCells(line) ?? [];
  if (columns.join() === EVENT_COLUMNS.join())
    return refused(
      'It holds events as CSV, which leaves out what they rest on. Export them as NDJSON to compare them.',
    );
  const missing = SAMPLE_COLUMNS.filter((name) => name !== 'conflict' && !columns.includes(name));
  if (missing.length > 0)
    return refused(
      `Its first line lacks the columns ${missing.join(', ')}: it should read ${SAMPLE_COLUMNS.join(',')}.`,
    );
  return { kind: 'samples', format: 'csv', read: (line) => csvLine(columns, line) };
}

const fault = (says: string): ReadLine => ({ kind: 'fault', says });

function ndjsonLine(site: string, line: string): ReadLine {
  const found = jsonOf(line);
  if (found === null) return fault('It is no JSON object: was the line cut short? Mend it or leave it out.');
  if (found['end'] === true) return { kind: 'end', rows: Number(found['rows']) };
  const { point, t, v, q = 'good', conflict = false } = found;
  return rowOf(site, { point, t, value: v, quality: q, conflict });
}

function csvLine(columns: readonly string[], line: string): ReadLine {
  const cells = csvCells(line);
  if (cells === null) return fault('A quote is opened and not closed: close it, or leave the line out.');
  if (cells.length !== columns.length)
    return fault(`It has ${cells.length} cells for ${columns.length} columns: mend it or leave it out.`);
  const cell = (name: (typeof SAMPLE_COLUMNS)[number]) => cells[columns.indexOf(name)] ?? '';
  const value = cell('value').trim() === '' ? null : Number(cell('value'));
  const conflict = { '': false, 0: false, 1: true }[cell('conflict')] ?? cell('conflict');
  const [point, t, quality] = [cell('point'), cell('t'), cell('quality') || 'good'];
  return rowOf(cell('site'), { point, t, value, quality, conflict });
}

interface Given {
  readonly point: unknown;
  readonly t: unknown;
  readonly value: unknown;
  readonly quality: unknown;
  readonly conflict: unknown;
}

const SLUG = /^[a-z0-9][a-z0-9-]{0,62}$/;
const POINT = /^[a-z0-9][a-z0-9-]{0,62}\/[a-z0-9][a-z0-9-]{0,62}$/;
const QUALITIES: readonly unknown[] = ['good', 'uncertain', 'bad'] satisfies QualityWord[];

function rowOf(site: string, { point, t, value, quality, conflict }: Given): ReadLine {
  if (!SLUG.test(site)) return fault(`${shown(site)} is no site: give its id, as in the configuration.`);
  if (typeof point !== 'string' || !POINT.test(point))
    return fault(`${shown(point)} is no point: give <device>/<signal>, as unit-1/cooling-call.`);
  if (typeof t !== 'string' || parseInstant(t) === null)
    return fault(`${shown(t)} is no time: give ISO 8601 with its zone, as 2026-03-02T08:15:00.250Z.`);
  if (typeof value !== 'number' || !Number.isFinite(value))
    return fault(`${shown(value)} is no value: give a number; for one that is missing leave the line out.`);
  if (!QUALITIES.includes(quality))
    return fault(`${shown(quality)} is no quality: give good, uncertain or bad.`);
  if (typeof conflict !== 'boolean') return fault(`${shown(conflict)} is no conflict: give 1 or 0.`);
  const q = quality === 'good' ? {} : { q: quality as QualityWord };
  return { kind: 'row', site, row: { point, t, v: value, ...q, ...(conflict ? { conflict } : {}) } };
}

const shown = (value: unknown): string => (JSON.stringify(value) ?? 'Nothing').slice(0, 80);

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
