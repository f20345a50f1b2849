import { writeRefusals, type RefusalRow } from '../../db/gateway-refusals.ts';
import type { Database } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import type { Observe } from '../observation.ts';

/** One time that the broker turned somebody away, or let a message of theirs go nowhere. */
export interface BrokerRefusal {
  readonly why: RefusalWhy;
  /** '': none was given */
  readonly username: string;
  /** '': not known */
  readonly address: string;
  readonly client: string;
  /** a topic, or what went wrong */
  readonly detail: string;
}

type Gathered = RefusalRow & { readonly why: RefusalWhy };

/**
 * Gathers refusals for two seconds, then tells of them (a line in the log and a count for each reason, user and address) and
 * keeps them for the page. However fast somebody knocks, that is one line and one row each two seconds; beyond 500 who
 * differ they are counted as one.
 */
export class RefusalBook {
  readonly #database: Database;
  readonly #now: () => Instant;
  readonly #observe: Observe;
  readonly #timer: NodeJS.Timeout;
  #rows = new Map<string, Gathered>();
  #writing: Promise<void> = Promise.resolve();

  constructor(options: {
    readonly database: Database;
    readonly now: () => Instant;
    readonly observe: Observe;
    /** how long they are gathered */
    readonly everyMs?: number;
  }) {
    this.#database = options.database;
    this.#now = options.now;
    this.#observe = options.observe;
    this.#timer = setInterval(() => void this.flush(), options.everyMs ?? EVERY_MS);
    this.#timer.unref();
  }

  note(refusal: BrokerRefusal): void {
    const at = this.#now();
    const given = this.#rows.size < MOST_ROWS ? refusal : { ...refusal, ...MANY };
    const username = line(given.username, 128);
    const address = line(given.address, 64);
    const key = [given.why, username, address].join(' ');
    const before = this.#rows.get(key);
    this.#rows.set(key, {
      why: given.why,
      username,
      address,
      client: line(given.client, 128),
      detail: line(given.detail, 300),
      firstAt: before?.firstAt ?? at,
      lastAt: at,
      times: (before?.times ?? 0) + 1,
    });
  }

  /** Tells of what was gathered, and keeps it. What the database doesn't take was told all the same. */
  flush(): Promise<void> {
    if (this.#rows.size === 0) return this.#writing;
    const rows = [...this.#rows.values()];
    this.#rows = new Map();
    for (const { why, username, address, client, detail, times } of rows)
      this.#observe({ kind: 'gateway-refused', why, username, address, client, detail, times });
    this.#writing = this.#writing
      .then(() => writeRefusals(this.#database, rows, this.#now()))
      .catch((error: Error) => this.#observe({ kind: 'refusals-not-kept', error }));
    return this.#writing;
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await this.flush();
  }
}

const EVERY_MS = 2_000;
const MOST_ROWS = 500;
const MANY = { username: '', address: '', detail: 'many differ: they are counted together' };

/** One line of bounded length: what strangers send makes no lines of its own in a log. */
// eslint-disable-next-line no-control-regex -- those are what is taken out
const NO_LINE = /[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g;
const line = (text: string, most: number): string => text.replace(NO_LINE, '?').slice(0, most);
