import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { isDeepStrictEqual } from 'node:util';
import { deleteSamples } from '../db/demonstration.ts';
import type { Database } from '../db/pool.ts';
import { readDocuments } from '../db/read-history.ts';
import { putSite } from '../db/sites.ts';
import { formatInstant, parseInstant, type Instant } from '../shared/base/instant.ts';
import { DEMONSTRATION } from './http/site-routes.ts';
import { startDemo, type Demo } from './demo/demo.ts';

/**
 * The simulated school and shelter on this machine's broker: told, or stopped, or removed for good. That they are removed
 * stands in a file of the data folder, which every later start heeds: whoever takes that file away has them again.
 */
export interface DemonstrationOptions {
  readonly folder: string;
  readonly say: (line: string) => void;
  /** left out: a week */
  readonly historySeconds?: number;
}

interface Ground {
  readonly brokerUrl: string;
  readonly database: Database;
}

const clock = (): number => Math.round((performance.timeOrigin + performance.now()) * 1000);

export class Demonstration {
  readonly #options: DemonstrationOptions;
  /** what is asked of it is done one after the other */
  #turn: Promise<unknown> = Promise.resolve();
  #running: Demo | null = null;
  #tidying: Promise<void> = Promise.resolve();
  #isStopping = false;

  constructor(options: DemonstrationOptions) {
    this.#options = options;
  }

  get isTold(): boolean {
    return this.#running !== null;
  }

  /** Begins to tell, unless it was removed. A site that somebody has changed is left as it is. */
  start({ brokerUrl, database }: Ground): Promise<void> {
    return this.#inTurn(async () => {
      const { folder, say, historySeconds } = this.#options;
      if ((await this.removedAt()) !== null) {
        say(`The demonstration was removed: take ${this.#mark} away to have it again.`);
        return;
      }
      this.#running = await startDemo({
        ...{ brokerUrl, say, now: clock, notesFile: join(folder, 'demo.json') },
        ...(historySeconds === undefined ? {} : { historySeconds }),
        putSite: (site, document) => putOnce(database, site, document),
      });
    });
  }

  stop(): Promise<void> {
    this.#isStopping = true;
    return this.#inTurn(async () => {
      await this.#running?.stop();
      this.#running = null;
      await this.#tidying;
    });
  }

  /**
   * Tells no more, from the next start on either; then `remove` takes the sites away and answers their points, whose samples
   * go in the background. All that was told is committed before, so nothing of it comes after its site has gone.
   */
  remove<A extends { readonly points: readonly number[] }>(
    database: Database,
    remove: () => Promise<A>,
  ): Promise<A> {
    return this.#inTurn(async () => {
      await this.#running?.finish();
      this.#running = null;
      await this.#noteRemoved();
      const answer = await remove();
      this.#tidying = deleteSamples(database, answer.points, () => !this.#isStopping).catch(
        (error: unknown) =>
          this.#options.say(`samples of the demonstration are left behind: ${String(error)}`),
      );
      return answer;
    });
  }

  /** null: it wasn't */
  async removedAt(): Promise<Instant | null> {
    const text = await readFile(this.#mark, 'utf8').catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT') return null;
      throw error;
    });
    if (text === null) return null;
    return parseInstant(/"removedAt":\s*"([^"]+)"/.exec(text)?.[1] ?? '') ?? 0;
  }

  /** When the samples of removed sites are gone. */
  get tidied(): Promise<void> {
    return this.#tidying;
  }

  get #mark(): string {
    return join(this.#options.folder, 'demo-removed');
  }

  async #noteRemoved(): Promise<void> {
    await mkdir(this.#options.folder, { recursive: true });
    await writeFile(this.#mark, `${JSON.stringify({ removedAt: formatInstant(clock()) })}\n`);
  }

  #inTurn<A>(work: () => Promise<A>): Promise<A> {
    const done = this.#turn.then(work);
    this.#turn = done.catch(() => undefined);
    return done;
  }
}

async function putOnce(database: Database, site: string, document: unknown): Promise<{ isNew: boolean }> {
  const before = await readDocuments(database, site);
  const first = before[0]?.document;
  const changed = before.length > 1 || before.some(({ putBy }) => putBy !== DEMONSTRATION);
  if (changed || isDeepStrictEqual(first, JSON.parse(JSON.stringify(document)))) return { isNew: false };
  await putSite(database, { site, document, from: -Infinity, now: clock(), by: DEMONSTRATION });
  return { isNew: before.length === 0 };
}
