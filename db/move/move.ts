import { countRows } from '../backup/file-form.ts';
import {
  dropEverything,
  listOf,
  quoted,
  readNumbering,
  readSequences,
  readTables,
  writeNumbering,
  writeSequences,
  type Table,
} from '../backup/tables.ts';
import { migrate } from '../migrate.ts';
import { makeMissing, weeksIn } from '../partitions.ts';
import { statement, type Database } from '../pool.ts';
import { useTimescale, type Storage } from '../timescale.ts';
import {
  beginMove,
  endMove,
  forgetCopied,
  noteCopied,
  notePrepared,
  readCopied,
  readHalfDone,
} from './half-done.ts';
import { readIdentity, refuseTarget, refuseUnfit } from './refuse.ts';
import { copyText, nextPage, readRows, readStretches, readSum, whereOf, type Stretch } from './stretches.ts';

/**
 * A whole installation into another, empty database, of whatever kind: from plain PostgreSQL to TimescaleDB, above all. Nobody is
 * at work on either meanwhile. Rows are copied page by page, each noted where it is written, so that a move that was killed
 * goes on; at the end every stretch of every table is compared by count and digest, and one that differs (the installation
 * was started in between) is copied once more. What it is moved from stays as it is.
 */
export interface MoveOptions {
  readonly progress: (at: MoveProgress) => void;
  /** rows of a page; left out: as many as are written in a second or so */
  readonly pageRows?: number;
}

export interface MoveProgress {
  readonly what: 'copied' | 'compared';
  readonly table: string;
  readonly rows: number;
  readonly of: number;
}

export interface MoveDone {
  readonly tables: number;
  readonly rows: number;
  /** stretches that had changed since they were copied */
  readonly again: number;
  readonly isResumed: boolean;
  readonly storage: Storage;
}

const PAGE_ROWS = 100_000;

export async function moveInstallation(
  from: Database,
  to: Database,
  options: MoveOptions,
): Promise<MoveDone> {
  await refuseUnfit(from, to);
  const source = await readIdentity(from);
  const tables = await readTables(from);
  const isResumed = (await readHalfDone(to)) !== null;
  await refuseTarget(to, source, tables);
  const storage = await prepare(to, source);
  const move = new Move(from, to, { pageRows: PAGE_ROWS, ...options });
  const again = await move.run(tables);
  await to.run(statement('', 'analyze'));
  await to.transaction({ name: 'move-end' }, endMove);
  return { tables: tables.length, rows: move.of, again, isResumed, storage };
}

/** The schema as this program has it, empty. Done again where it was begun and not noted as done. */
async function prepare(to: Database, source: string): Promise<Storage> {
  const begun = await readHalfDone(to);
  if (!begun)
    await to.transaction({ name: 'move-begin', retries: 0 }, async (queries) => {
      await dropEverything(queries);
      await beginMove(queries, source);
    });
  await migrate(to);
  const storage = await useTimescale(to);
  if (!begun?.isPrepared)
    await to.transaction({ name: 'move-prepare' }, async (queries) => {
      for (const { name } of (await readTables(queries)).reverse())
        await queries.run(statement('', `delete from ${quoted(name)}`)); // rows that migrations have written
      await notePrepared(queries);
    });
  return storage;
}

/** How often what differs is copied again: more often means that somebody is at work there. */
const MOST_ROUNDS = 2;

class Move {
  readonly #from: Database;
  readonly #to: Database;
  readonly #options: Required<MoveOptions>;
  #copied = 0;
  of = 0;

  constructor(from: Database, to: Database, options: Required<MoveOptions>) {
    this.#from = from;
    this.#to = to;
    this.#options = options;
  }

  /** Answers how many stretches had to be copied again. */
  async run(tables: readonly Table[]): Promise<number> {
    for (const table of tables) this.of += await readRows(this.#from, table);
    let again = 0;
    for (let round = 0; ; round++) {
      const stretches = await readStretches(this.#from, tables);
      this.#copied = 0;
      for (const stretch of stretches) await this.#copy(stretch);
      await this.#copyNumbers(tables);
      const differing = await this.#compare(stretches);
      if (differing.length === 0) return again;
      if (round === MOST_ROUNDS) throw new Error(changing(differing));
      again += differing.length;
      await this.#clear(stretches, differing);
    }
  }

  async #copy(stretch: Stretch): Promise<void> {
    let { rows, last, isWhole } = await readCopied(this.#to, stretch);
    this.#copied += rows;
    while (!isWhole) {
      const page = await nextPage(this.#from, stretch, last, this.#options.pageRows);
      isWhole = page.last === null;
      const weeks =
        rows === 0 && stretch.table.name === 'samples' ? await weeksIn(this.#from, [stretch]) : [];
      const { name, columns } = stretch.table;
      const copied = await this.#to.transaction({ name: 'move-page', retries: 0 }, async (queries) => {
        if (weeks.length > 0) await makeMissing(queries, weeks);
        let count = 0;
        const counted = async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
          for await (const chunk of chunks) {
            count += countRows(chunk);
            yield chunk;
          }
        };
        const chunks = counted(this.#from.copyOut(copyText(stretch, page)));
        await queries.copyIn(`copy ${quoted(name)} (${listOf(columns)}) from stdin`, chunks);
        await noteCopied(queries, stretch, { rows: rows + count, last: page.last, isWhole });
        return count;
      });
      rows += copied;
      last = page.last;
      this.#copied += copied;
      this.#options.progress({ what: 'copied', table: name, rows: this.#copied, of: this.of });
    }
  }

  async #copyNumbers(tables: readonly Table[]): Promise<void> {
    for (const table of tables) await writeNumbering(this.#to, table, await readNumbering(this.#from, table));
    await writeSequences(this.#to, await readSequences(this.#from));
  }

  async #compare(stretches: readonly Stretch[]): Promise<Stretch[]> {
    const differing: Stretch[] = [];
    let compared = 0;
    for (const stretch of stretches) {
      const [here, there] = await Promise.all([readSum(this.#from, stretch), readSum(this.#to, stretch)]);
      if (here.rows !== there.rows || here.digest !== there.digest) differing.push(stretch);
      compared += here.rows;
      this.#options.progress({ what: 'compared', table: stretch.table.name, rows: compared, of: this.of });
    }
    return differing;
  }

  /** What differs goes; of tables that refer to one another all go, the last first. */
  async #clear(stretches: readonly Stretch[], differing: readonly Stretch[]): Promise<void> {
    const isRecord = ({ table }: Stretch) => table.name === 'samples';
    const others = differing.every(isRecord)
      ? []
      : stretches.filter((stretch) => !isRecord(stretch)).reverse();
    await this.#to.transaction({ name: 'move-clear' }, async (queries) => {
      for (const stretch of [...differing.filter(isRecord), ...others]) {
        await queries.run(
          statement('', `delete from ${quoted(stretch.table.name)} where ${whereOf(stretch)}`),
        );
        await forgetCopied(queries, stretch);
      }
    });
  }
}

const changing = (differing: readonly Stretch[]): string =>
  `${[...new Set(differing.map(({ table }) => table.name))].slice(0, 5).join(', ')} changed while it was being copied: ` +
  'stop whatever works on the installation, and move once more.';
