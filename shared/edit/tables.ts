import { csvOf, type Cell } from '../wire/csv.ts';
import { valueAt } from '../telemetry/json-pointer.ts';
import { entriesAt, type Path } from './change.ts';
import { textOf, valueOf, type Entry, type Field } from './field.ts';
import type { PartName } from './part.ts';
import { fieldsOf, PARTS, type SiteListName } from './parts.ts';

/**
 * Sites as tables: one for each kind of part, a row for each part, a column for each input of the editor. A table is known by
 * its columns: `signal` for points, else `unit`, `panel`, `space`, `gateway`, else `site` alone.
 */
export type TableName = 'sites' | Exclude<SiteListName, 'points'> | 'points';

export interface Table {
  readonly name: TableName;
  readonly of: PartName;
  /** columns that name a row, in order: all must be given */
  readonly keys: readonly string[];
  readonly columns: readonly Column[];
}

/** A cell’s place in its part, and how text becomes its value. */
export interface Column {
  readonly name: string;
  readonly field: Field;
  /** a list inside a cell, as JSON */
  readonly isJson: boolean;
}

/** Lists inside a part that have no table of their own. */
const JSON_LISTS: Readonly<Partial<Record<PartName, readonly string[]>>> = {
  site: ['contacts'],
  gateway: ['clockOffsets'],
  space: ['inUse'],
  unit: ['photos'],
};

const columnName = ({ path }: Field): string =>
  path[0] === 'range' ? (path[1] === '0' ? 'range.low' : 'range.high') : path.join('.');

function tableOf(name: TableName, of: PartName, keys: readonly string[], named: string): Table {
  const fields = fieldsOf(PARTS[of]).filter(({ path }) => path[0] !== named);
  const lists = (JSON_LISTS[of] ?? []).map((list): Column => ({
    name: list,
    isJson: true,
    field: { path: [list], label: list, kind: 'line' },
  }));
  const columns = fields.map((field): Column => ({ name: columnName(field), field, isJson: false }));
  return { name, of, keys, columns: [...columns, ...lists] };
}

/** In the order in which they build on each other. */
export const TABLES: readonly Table[] = [
  tableOf('sites', 'site', ['site'], ''),
  tableOf('gateways', 'gateway', ['site', 'gateway'], 'id'),
  tableOf('spaces', 'space', ['site', 'space'], 'id'),
  tableOf('panels', 'panel', ['site', 'panel'], 'id'),
  tableOf('units', 'unit', ['site', 'unit'], 'id'),
  tableOf('points', 'point', ['site', 'device', 'signal'], 'signal'),
];

/** Which table these columns are of; null: of none. */
export function tableOfColumns(columns: readonly string[]): Table | null {
  const has = (name: string) => columns.includes(name);
  if (!has('site')) return null;
  const order: readonly [string, TableName][] = [
    ['signal', 'points'],
    ['unit', 'units'],
    ['panel', 'panels'],
    ['space', 'spaces'],
    ['gateway', 'gateways'],
    ['site', 'sites'],
  ];
  const name = order.find(([key]) => has(key))![1];
  return TABLES.find((table) => table.name === name)!;
}

/** undefined: not given. `fault`: the text can’t be read at all. */
export function cellValue({ field, isJson }: Column, text: string): { value: unknown } | { fault: string } {
  if (!isJson || text.trim() === '') return { value: valueOf(field, isJson ? '' : text.trim()) };
  try {
    return { value: JSON.parse(text) as unknown };
  } catch {
    return { fault: `Give a list as JSON, as the export writes it.` };
  }
}

const cellOf = ({ field, isJson }: Column, part: unknown): Cell => {
  const value = valueAt(part, field.path);
  if (value === undefined) return null;
  return isJson ? JSON.stringify(value) : textOf(field, value);
};

export interface NamedDocument {
  readonly site: string;
  readonly document: unknown;
}

/** A table of some sites as CSV, with every column, so that what is empty can be filled in. */
export function tableCsv(table: Table, sites: readonly NamedDocument[]): string {
  const rows = sites.flatMap(({ site, document }) =>
    partsIn(table, document).map(({ path, key }) => {
      const part = valueAt(document, path);
      return [site, ...key, ...table.columns.map((column) => cellOf(column, part))];
    }),
  );
  return csvOf([...table.keys, ...table.columns.map(({ name }) => name)], rows);
}

const DEVICES = ['spaces', 'panels', 'units'] as const;

/** The parts of a document that are rows of a table, with their names. */
function partsIn({ name }: Table, document: unknown): { path: Path; key: readonly string[] }[] {
  if (name === 'sites') return [{ path: [], key: [] }];
  if (name !== 'points')
    return entriesAt(document, [name]).map((entry, i) => ({
      path: [name, String(i)],
      key: [String((entry as Entry)['id'])],
    }));
  const lists = [
    { device: 'site', path: ['points'] },
    ...DEVICES.flatMap((list) =>
      entriesAt(document, [list]).map((entry, i) => ({
        device: String((entry as Entry)['id']),
        path: [list, String(i), 'points'],
      })),
    ),
  ];
  return lists.flatMap(({ device, path }) =>
    entriesAt(document, path).map((entry, i) => ({
      path: [...path, String(i)],
      key: [device, String((entry as Entry)['signal'])],
    })),
  );
}
