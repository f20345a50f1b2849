import { parseInstant } from '../base/instant.ts';
import type { QualityWord } from '../telemetry/sample.ts';
import type { Exported } from './export-rows.ts';

/** What the forms of files that come back have in common: how a line's fields are read, and what is said of a wrong one. */
export type Given = Readonly<Record<string, unknown>>;

export type ReadRow<Row> =
  { readonly kind: 'row'; readonly row: Row } | { readonly kind: 'fault'; readonly says: string };

export interface RowForm<Row> {
  readonly holds: Exclude<Exported, 'events'>;
  /** of CSV; `conflict` may be missing */
  readonly columns: readonly string[];
  /** the fields as NDJSON has them, from the cells of a line */
  ofCells(cell: (column: string) => string): Given;
  read(given: Given): ReadRow<Row>;
}

export const fault = (says: string) => ({ kind: 'fault' as const, says });

export const shown = (value: unknown): string => (JSON.stringify(value) ?? 'Nothing').slice(0, 80);

const POINT = /^[a-z0-9][a-z0-9-]{0,62}\/[a-z0-9][a-z0-9-]{0,62}$/;
const QUALITIES: readonly unknown[] = ['good', 'uncertain', 'bad'] satisfies QualityWord[];

export const pointFault = (point: unknown): string | null =>
  typeof point === 'string' && POINT.test(point)
    ? null
    : `${shown(point)} is no point: give <device>/<signal>, as unit-1/cooling-call.`;

export const noTime = (t: unknown): string | null =>
  typeof t === 'string' && parseInstant(t) !== null
    ? null
    : `${shown(t)} is no time: give ISO 8601 with its zone, as 2026-03-02T08:15:00.250Z.`;

export function qualityFault(quality: unknown, conflict: unknown): string | null {
  if (!QUALITIES.includes(quality)) return `${shown(quality)} is no quality: give good, uncertain or bad.`;
  return typeof conflict === 'boolean' ? null : `${shown(conflict)} is no conflict: give 1 or 0.`;
}
