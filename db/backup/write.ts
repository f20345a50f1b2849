import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { readApplied } from '../migrate.ts';
import { EVERYTHING, readRanges, weeksIn, type SampleRange } from '../partitions.ts';
import { statement, type Database, type Queries } from '../pool.ts';
import { rollUp } from '../rollups.ts';
import { timeParameter } from '../values.ts';
import { countRows, lineOf, ROWS_END, Tally, type PartHead } from './file-form.ts';
import { keyOrder, listOf, quoted, readNumbering, readSequences, readTables, type Table } from './tables.ts';

/**
 * A backup of a running installation that is exactly what stood at one moment, though its long part is read by pages:
 *
 *   1. rolling samples up is held back, so that every change of samples from now on leaves a mark that stays (samples.ts)
 *   2. samples and their rollups are read by pages, each a statement of its own
 *   3. one snapshot reads every other table, and of the samples those stretches that are marked, once more
 *
 * Of the samples read in 2 a row that has changed since, or has come behind the page, lies in a marked stretch and is read
 * again in 3; any other stands as it stood then. So all of it together is the moment of the snapshot. No statement of 2 lasts
 * longer than its page; the snapshot lasts as long as everything but the record takes.
 */
export interface BackupOptions {
  readonly program: string;
  readonly now: Instant;
  /** comes back when it may go on */
  readonly write: (chunk: Buffer) => Promise<void>;
  readonly progress: (rows: number, estimated: number) => void;
  /** rows of a page; left out: as many as are read in a part of a second */
  readonly pageRows?: number;
}

export interface BackupDone {
  readonly tables: number;
  readonly rows: number;
  /** how long the one snapshot lasted */
  readonly snapshotMs: number;
}

/** Read by pages; each has a column `t` or `from_t` of instants and a point. */
const PAGED: Readonly<Record<string, string>> = { samples: 't', sample_rollups: 'from_t' };

const HOLD = statement('', 'select pg_advisory_lock(7203, 9)');
const LET_GO = statement('', 'select pg_advisory_unlock(7203, 9)');

export async function writeBackup(database: Database, options: BackupOptions): Promise<BackupDone> {
  while (await rollUp(database, options.now)); // old marks would make the snapshot long
  return database.session(async (session) => {
    await session.run(HOLD);
    try {
      const part = new Parts(options, await readEstimate(database));
      const migrations = await readApplied(database);
      const { program, now, write } = options;
      await write(
        lineOf({ holds: 'holdoff-backup', version: 1, migrations, madeAt: formatInstant(now), program }),
      );
      const tables = await readTables(database);
      for (const table of tables)
        if (table.name in PAGED) await part.byPages(database, table, options.pageRows ?? PAGE_ROWS);
      const began = performance.now();
      const sequences = await session.transaction(
        { name: 'backup', isolation: 'repeatable read', readOnly: true, retries: 0 },
        async (queries) => {
          for (const table of tables) await part.snapshot(queries, table);
          return readSequences(queries);
        },
      );
      const snapshotMs = performance.now() - began;
      await write(lineOf({ whole: true, parts: part.count, rows: part.rows, sequences }));
      return { tables: tables.length, rows: part.rows, snapshotMs };
    } finally {
      await session.run(LET_GO).catch(() => {}); // the connection may be what failed; the lock goes with it
    }
  });
}

const headOf = ({ name, columns }: Table): PartHead => ({ table: name, columns });

class Parts {
  readonly #options: BackupOptions;
  readonly #estimated: number;
  count = 0;
  rows = 0;

  constructor(options: BackupOptions, estimated: number) {
    this.#options = options;
    this.#estimated = estimated;
  }

  async whole(head: PartHead, chunks: AsyncIterable<Buffer>): Promise<void> {
    const { write, progress } = this.#options;
    const tally = new Tally();
    await write(lineOf(head));
    for await (const chunk of chunks) {
      tally.add(chunk);
      await write(chunk);
      progress(this.rows + tally.rows, this.#estimated);
    }
    await write(ROWS_END);
    await write(lineOf(tally.end(head.table)));
    this.count++;
    this.rows += tally.rows;
  }

  async byPages(database: Database, table: Table, limit: number): Promise<void> {
    const isRecord = table.name === 'samples';
    const ranges = isRecord ? await readRanges(database) : [EVERYTHING];
    const head = isRecord ? { ...headOf(table), weeks: await weeksIn(database, ranges) } : headOf(table);
    await this.whole(head, pagesOf(database, table, ranges, limit));
  }

  async snapshot(queries: Queries, table: Table): Promise<void> {
    if (table.name === 'samples') {
      const weeks = (await queries.many<{ week: Instant }>(MARKED_WEEKS)).map(({ week }) => week);
      await this.whole({ ...headOf(table), again: true, weeks }, marked(queries, table));
    }
    if (table.name in PAGED) return;
    const numbering = await readNumbering(queries, table);
    const head = numbering.length > 0 ? { ...headOf(table), numbering } : headOf(table);
    const rows = `select ${listOf(table.columns)} from ${quoted(table.name)} order by ${keyOrder(table)}`;
    await this.whole(head, queries.copyOut(`copy (${rows}) to stdout`));
  }
}

const MARKED = '(select * from rollup_marks union select * from rollup_work) m';
const MARKED_WEEKS = statement(
  '',
  `select distinct week from ${MARKED},
     generate_series(date_bin('7 days', m.from_t, '1970-01-01Z'), m.to_t, interval '7 days') week order by 1`,
);

/** Samples of stretches that have changed since they were last rolled up. */
const marked = (queries: Queries, { columns }: Table): AsyncIterable<Buffer> =>
  queries.copyOut(
    `copy (select distinct ${columns.map((name) => `s.${quoted(name)}`).join(', ')}
       from ${MARKED}
       cross join lateral (
         select * from samples where point_id = m.point_id and t >= m.from_t and t < m.to_t
       ) s order by s.point_id, s.t) to stdout`,
  );

const PAGE_ROWS = 100_000;

/** Rows of a long table by ranges of time (a partition, a chunk), and in each by its key: every page is one ordered scan. */
async function* pagesOf(
  database: Database,
  table: Table,
  ranges: readonly SampleRange[],
  limit: number,
): AsyncGenerator<Buffer> {
  for (const range of ranges)
    for (let after: Place | null = null, more = true; more;) {
      const page: Buffer[] = [];
      for await (const chunk of database.copyOut(pageText(table, { range, after, limit }))) page.push(chunk);
      const bytes = Buffer.concat(page);
      if (bytes.length > 0) yield bytes;
      after = lastPlace(bytes);
      more = after !== null && countRows(bytes) === limit;
    }
}

/** As COPY writes them. */
interface Place {
  readonly point: string;
  readonly t: string;
}

interface Page {
  readonly range: SampleRange;
  readonly after: Place | null;
  readonly limit: number;
}

function pageText({ name, columns }: Table, { range: { from, before }, after, limit }: Page): string {
  const t = PAGED[name]!;
  const bounds = [`${t} >= '${timeParameter(from)}'`, `${t} < '${timeParameter(before)}'`];
  const place = after && `point_id >= ${after.point} and (point_id > ${after.point} or ${t} > '${after.t}')`;
  const where = [...bounds, ...(place === null ? [] : [place])].join(' and ');
  return `copy (select ${listOf(columns)} from ${quoted(name)} where ${where}
    order by point_id, ${t} limit ${limit}) to stdout`;
}

/** Of the last row: both tables begin with the point and the instant. */
function lastPlace(bytes: Buffer): Place | null {
  if (bytes.length === 0) return null;
  const begins = bytes.lastIndexOf(10, bytes.length - 2) + 1;
  const [point, t] = bytes.toString('utf8', begins, bytes.length - 1).split('\t');
  return { point: String(Number(point)), t: t! };
}

const ESTIMATE = statement(
  '',
  `select coalesce(sum(greatest(c.reltuples, 0)), 0)::bigint as rows from pg_class c
   where c.relkind = 'r' and c.relnamespace = 'public'::regnamespace`,
);

const readEstimate = async (queries: Queries): Promise<number> =>
  (await queries.one<{ rows: number }>(ESTIMATE)).rows;
