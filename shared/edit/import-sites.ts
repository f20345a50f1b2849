import { parseConfiguration, type Fault } from '../wire/configuration.ts';
import { checkReferences } from '../wire/check-references.ts';
import { schemaFaults } from '../wire/schema-faults.ts';
import { SiteDocument } from '../wire/site-document.ts';
import { addEntry, entriesAt, pointerOf, putAt, type Path } from './change.ts';
import type { Entry } from './field.ts';
import { placeOfPointer } from './inputs.ts';
import { readTables, type TableFault, type TableFile, type TableRow } from './read-tables.ts';

/**
 * Sites from tables: each row makes a part or changes it. A column that stands there sets its field, an empty cell takes it
 * away, a column that doesn't leaves it as it is; parts that no row tells of stay. Everything is checked whole, so that
 * every fault is told at once by file, row and column, and nothing is taken in while there is one.
 */
export interface SiteImport {
  readonly sites: readonly ImportedSite[];
  readonly faults: readonly TableFault[];
  readonly rows: number;
  /** the first row that tells of a site */
  readonly firstRows: ReadonlyMap<string, { readonly file: string; readonly row: number }>;
}

export interface ImportedSite {
  readonly site: string;
  readonly document: unknown;
  readonly isNew: boolean;
  readonly rows: number;
}

/** `current`: a site’s document as it holds now; null: there is no such site. */
export function importSites(files: readonly TableFile[], current: (site: string) => unknown): SiteImport {
  const { rows, faults } = readTables(files);
  const bySite = new Map<string, TableRow[]>();
  for (const row of rows) bySite.set(row.key[0]!, [...(bySite.get(row.key[0]!) ?? []), row]);
  const results = [...bySite].map(([site, own]) => importOne(site, own, current(site)));
  const all = [...faults, ...results.flatMap((one) => one.faults)];
  all.sort((a, b) => (a.file < b.file ? -1 : a.file > b.file ? 1 : a.row - b.row));
  const firstRows = new Map(
    [...bySite].map(([site, own]) => [site, { file: own[0]!.file, row: own[0]!.row }]),
  );
  return { sites: results.map((one) => one.imported), faults: all, rows: rows.length, firstRows };
}

/** The sites that some tables name, so that their documents can be read first. */
export const sitesIn = (files: readonly TableFile[]): string[] => [
  ...new Set(readTables(files).rows.map(({ key }) => key[0]!)),
];

function importOne(
  site: string,
  rows: readonly TableRow[],
  current: unknown,
): { readonly imported: ImportedSite; readonly faults: readonly TableFault[] } {
  const isNew = current === null;
  const first = rows[0]!;
  const imported = (document: unknown): ImportedSite => ({ site, document, isNew, rows: rows.length });
  if (isNew && first.table.name !== 'sites') {
    const message = `There is no site “${site}”: give it a row in a table of sites, with its timeZone.`;
    return { imported: imported(null), faults: [faultAt(first, 'site', message)] };
  }
  const built = build(current ?? {}, rows);
  const parsed = parseConfiguration(site, built.document);
  const found = parsed.ok ? [] : faultsOfBuilt(site, current ?? {}, rows, built);
  return { imported: imported(built.document), faults: [...built.faults, ...found] };
}

interface Built {
  readonly document: unknown;
  readonly faults: readonly TableFault[];
  /** which row a part came from, by its pointer */
  readonly origins: ReadonlyMap<string, TableRow>;
}

function build(start: unknown, rows: readonly TableRow[]): Built {
  let document = start;
  const faults: TableFault[] = [];
  const origins = new Map<string, TableRow>();
  for (const row of rows) {
    const placed = place(document, row);
    if (placed === null) {
      const message = `There is no unit, panel or space “${row.key[1]}” at ${row.key[0]}: give it a row, or write “site”.`;
      faults.push(faultAt(row, 'device', message));
      continue;
    }
    document = placed.document;
    for (const { column, value } of row.cells)
      document = putAt(document, [...placed.path, ...column.field.path], value) ?? {};
    origins.set(pointerOf(placed.path), row);
  }
  return { document, faults, origins };
}

/** The part that a row tells of, made where it isn’t there yet; null: it belongs to nothing. */
function place(document: unknown, { table, key }: TableRow): { document: unknown; path: Path } | null {
  if (table.name === 'sites') return { document, path: [] };
  if (table.name !== 'points') return entryIn(document, [table.name], 'id', key[1]!);
  const list = pointsOf(document, key[1]!);
  return list === null ? null : entryIn(document, list, 'signal', key[2]!);
}

function entryIn(
  document: unknown,
  list: Path,
  word: string,
  name: string,
): { document: unknown; path: Path } {
  const entries = entriesAt(document, list) as readonly (Entry | null)[];
  const index = entries.findIndex((entry) => entry?.[word] === name);
  if (index >= 0) return { document, path: [...list, String(index)] };
  return { document: addEntry(document, list, { [word]: name }), path: [...list, String(entries.length)] };
}

function pointsOf(document: unknown, device: string): Path | null {
  if (device === 'site') return ['points'];
  for (const list of ['units', 'panels', 'spaces']) {
    const index = (entriesAt(document, [list]) as readonly (Entry | null)[]).findIndex(
      (entry) => entry?.['id'] === device,
    );
    if (index >= 0) return [list, String(index), 'points'];
  }
  return null;
}

/**
 * All that is wrong with what was built: against the schema, and then, with those cells left out, against itself: whoever
 * mends a table wants to be told of everything at once.
 */
function faultsOfBuilt(site: string, start: unknown, rows: readonly TableRow[], built: Built): TableFault[] {
  const ids = parseConfiguration(site, built.document);
  const ofSchema = schemaFaults(SiteDocument, built.document);
  if (ofSchema.length === 0) return told(ids.ok ? [] : ids.faults, built, rows);
  const bad = new Set(ofSchema.map(({ pointer }) => pointer));
  const rest = build(
    start,
    rows.map((row) => withoutCells(row, built, bad)).filter((row) => row !== null),
  );
  const mended = withRequired(rest.document);
  const others =
    schemaFaults(SiteDocument, mended).length === 0 ? checkReferences(mended as SiteDocument) : [];
  const isNew = ({ pointer }: Fault) => !bad.has(pointer);
  return [...told(ofSchema, built, rows), ...told(others.filter(isNew), rest, rows)];
}

/** The row without what is wrong in it; null: its name itself is wrong. */
function withoutCells(row: TableRow, { origins }: Built, bad: ReadonlySet<string>): TableRow | null {
  const at = [...origins].find(([, one]) => one === row)?.[0];
  if (at === undefined) return null;
  if (row.table.name === 'points' && bad.has(`${at}/signal`)) return null;
  const isBad = (path: Path) => {
    const own = at + pointerOf(path);
    return [...bad].some((pointer) => pointer === own || pointer.startsWith(`${own}/`));
  };
  return { ...row, cells: row.cells.filter(({ column }) => !isBad(column.field.path)) };
}

/** What must be given and was wrong is stood in for, so that the rest can be looked at. */
function withRequired(document: unknown): unknown {
  const panels = entriesAt(document, ['panels']) as readonly Entry[];
  let mended =
    (document as Entry)['timeZone'] === undefined ? putAt(document, ['timeZone'], 'UTC') : document;
  (entriesAt(document, ['units']) as readonly Entry[]).forEach((unit, i) => {
    if (unit['panel'] === undefined && panels[0])
      mended = putAt(mended, ['units', String(i), 'panel'], panels[0]['id']);
  });
  return mended;
}

/** Faults by the rows that they come from. */
const told = (faults: readonly Fault[], { origins }: Built, rows: readonly TableRow[]): TableFault[] =>
  faults.map(({ pointer, message }) => {
    const { part, field } = placeOfPointer(pointer);
    const row = rowOfPart(part.path, origins) ?? rows[0]!;
    const column = row.table.columns.find((one) => one.field === field)?.name;
    return faultAt(row, column ?? nameColumn(row, field?.path[0]), message);
  });

function rowOfPart(path: Path, origins: ReadonlyMap<string, TableRow>): TableRow | null {
  for (let length = path.length; length >= 0; length--) {
    const row = origins.get(pointerOf(path.slice(0, length)));
    if (row) return row;
  }
  return null;
}

const nameColumn = ({ table }: TableRow, field: string | undefined): string =>
  field === 'id' || field === 'signal' ? table.keys.at(-1)! : (field ?? '');

const faultAt = ({ file, row }: TableRow, column: string, message: string): TableFault => ({
  file,
  row,
  column,
  message,
});
