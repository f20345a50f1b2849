import type { Measure } from '../../../shared/inference/event.ts';
import { measureName, measureText } from '../../../shared/wire/event-sentences.ts';

/**
 * An event's measures as they are read: those of the whole event by themselves; those of its units (`unit-5.planned`) and
 * of neighbours (`unit-5>unit-6.spacing`) as tables with a row each.
 */
export interface MeasureTable {
  readonly columns: readonly string[];
  readonly rows: readonly { readonly of: string; readonly cells: readonly string[] }[];
}
export interface MeasureTables {
  readonly plain: readonly (readonly [name: string, text: string])[];
  readonly units: MeasureTable | null;
  readonly neighbours: MeasureTable | null;
}

/** Columns in the order in which a restart is read; others after them. */
const ORDER = ['planned', 'started', 'deviation', 'spacing', 'verdict', 'outcome', 'set by'];

export function measureTables(
  measures: Readonly<Record<string, Measure>>,
  nameOf: (device: string) => string,
): MeasureTables {
  const plain: [string, string][] = [];
  const [units, neighbours]: [Cells, Cells] = [new Map(), new Map()];
  for (const [key, measure] of Object.entries(measures)) {
    const [, device, name] = /^([a-z0-9>-]+)\.(\w+)$/.exec(key) ?? [];
    const text = measureText(name ?? key, measure);
    if (device === undefined || name === undefined) plain.push([measureName(key), text]);
    else put(device.includes('>') ? neighbours : units, device, measureName(name), text);
  }
  return { plain, units: tableOf(units, nameOf), neighbours: tableOf(neighbours, nameOf) };
}

type Cells = Map<string, Map<string, string>>;

function put(cells: Cells, device: string, column: string, text: string): void {
  const row = cells.get(device) ?? new Map<string, string>();
  row.set(column, text);
  cells.set(device, row);
}

function tableOf(cells: Cells, nameOf: (device: string) => string): MeasureTable | null {
  if (cells.size === 0) return null;
  const rank = (column: string) => (ORDER.includes(column) ? ORDER.indexOf(column) : ORDER.length);
  const columns = [...new Set([...cells.values()].flatMap((row) => [...row.keys()]))].sort(
    (a, b) => rank(a) - rank(b),
  );
  const rows = [...cells].map(([device, row]) => ({
    of: device.split('>').map(nameOf).join(' → '),
    cells: columns.map((column) => row.get(column) ?? ''),
  }));
  return { columns, rows: rows.sort((a, b) => a.of.localeCompare(b.of, 'en', { numeric: true })) };
}
