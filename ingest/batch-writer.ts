import { commitBatch } from '../db/commit.ts';
import type { Database } from '../db/pool.ts';
import { trimRejected, writeRejected, type RejectedRow } from '../db/rejected.ts';
import { Expectation } from '../db/samples.ts';
import { trimWaveforms } from '../db/waveforms.ts';
import type { WatchMark } from '../db/watch-marks.ts';
import { MILLISECOND, SECOND, type Instant } from '../shared/base/instant.ts';
import { ArrivalClock, Lateness } from './arrivals.ts';
import { BatchMaker, type Batch } from './batch.ts';
import type { Catalogue } from './catalogue.ts';
import { KEPT_BYTES, saysOf } from './decode/reject.ts';
import type { Message } from './message.ts';
import type { Observe } from './observation.ts';
import { NOTHING_KNOWN, readCatalogue } from './read-catalogue.ts';

export interface WriterOptions {
  readonly database: Database;
  /** the first words of the topics that are ours */
  readonly root: string;
  readonly waveformDays: number;
  readonly now: () => Instant;
  readonly observe: Observe;
  /** called whenever the configuration has been read: what is listened to follows it */
  readonly catalogueRead?: (catalogue: Catalogue) => void;
}

/**
 * Decodes a batch under the configuration in force and commits it. The transaction itself compares the revision: where
 * it has moved on, nothing is written and the batch is decoded again under what holds now.
 */
export class BatchWriter {
  readonly #options: WriterOptions;
  readonly #arrivalClock = new ArrivalClock();
  readonly #lateness = new Lateness();
  readonly #committedLives = new Map<number, Instant>();
  readonly #expectation = new Expectation();
  readonly #trimmer: Trimmer;
  #catalogue: Catalogue = NOTHING_KNOWN;

  constructor(options: WriterOptions) {
    this.#options = options;
    this.#trimmer = new Trimmer(options);
  }

  /** Reads the configuration before the first batch asks for it. */
  async prepare(): Promise<void> {
    if (this.#catalogue === NOTHING_KNOWN) await this.#readCatalogue();
  }

  /** Decodes under the configuration that was read last: where another is in force at the commit, it is done again. */
  begin(): BatchMaker {
    return new BatchMaker({
      root: this.#options.root,
      catalogue: this.#catalogue,
      arrivalOf: (point, receivedAt) =>
        this.#arrivalClock.next('lifeId' in point ? point.lifeId : point.id, receivedAt),
      lateness: this.#lateness,
      isLifeKnown: (lifeId, t) => this.#committedLives.get(lifeId) === t,
    });
  }

  /** Comes back when all of it is committed; an error means that none of it is. `made`: of these messages and marks. */
  async write(messages: readonly Message[], marks: readonly WatchMark[], made: Batch | null): Promise<void> {
    const startedAt = this.#options.now();
    await this.prepare();
    for (let batch = made; ; batch = null) {
      batch ??= this.#make(messages, marks);
      const outcome = await commitBatch(this.#options.database, batch.commit, this.#expectation);
      if (outcome.kind === 'committed') {
        this.#observe(messages, batch, outcome.changed, startedAt);
        return this.#trimmer.after(batch.commit.rejected);
      }
      await this.#readCatalogue();
    }
  }

  /** A message that the database refuses is set aside with what the database said. */
  async setAside(message: Message, error: Error): Promise<void> {
    const { database, observe } = this.#options;
    observe({ kind: 'commit-refused', topic: message.topic, error });
    const row = {
      receivedAt: message.receivedAt,
      topic: message.topic.replaceAll('\u0000', '\uFFFD'), // PostgreSQL's text can't hold it
      reason: 'commit-refused',
      detail: `${saysOf('commit-refused')}: ${error.message}`,
      payload: message.payload.subarray(0, KEPT_BYTES),
      payloadBytes: message.payload.length,
    };
    await database.transaction({ name: 'set-aside' }, (queries) => writeRejected(queries, [row]));
  }

  #make(messages: readonly Message[], marks: readonly WatchMark[]): Batch {
    const maker = this.begin();
    for (const message of messages) maker.add(message);
    return maker.finish(marks);
  }

  async #readCatalogue(): Promise<void> {
    this.#catalogue = await readCatalogue(this.#options.database, this.#catalogue);
    const { revision, sites } = this.#catalogue;
    this.#options.observe({ kind: 'configuration-read', revision, sites: sites.size });
    this.#options.catalogueRead?.(this.#catalogue);
  }

  #observe(messages: readonly Message[], batch: Batch, changed: number, startedAt: Instant): void {
    const { now, observe } = this.#options;
    const { lives } = batch.commit;
    for (const [i, lifeId] of lives.pointId.entries()) this.#committedLives.set(lifeId, lives.t[i]!);
    for (const { reason, topic, entries } of batch.rejected)
      observe({ kind: 'set-aside', reason, topic, entries });
    const at = now();
    observe({
      kind: 'committed',
      messages: messages.length,
      samples: batch.samples,
      changed,
      rejected: batch.rejected.length,
      tookMs: (at - startedAt) / MILLISECOND,
      oldestMs: messages[0] ? (at - messages[0].receivedAt) / MILLISECOND : 0,
    });
  }
}

/** Looks after the bounds of what is set aside and of waveforms: after so many entries or bytes set aside, and every hour. */
const TRIM_ENTRIES = 10_000;
const TRIM_BYTES = 32 * 1024 * 1024;
const TRIM_AGE = 3_600 * SECOND;

class Trimmer {
  readonly #options: WriterOptions;
  #entries = 0;
  #bytes = 0;
  #trimmedAt: Instant = -Infinity;

  constructor(options: WriterOptions) {
    this.#options = options;
  }

  /** Never fails the batch, which is committed: it is tried again after the next one. */
  async after(rejected: readonly RejectedRow[]): Promise<void> {
    const { database, now, observe, waveformDays } = this.#options;
    this.#entries += rejected.length;
    for (const { payload } of rejected) this.#bytes += payload.length;
    const isFull = this.#entries >= TRIM_ENTRIES || this.#bytes >= TRIM_BYTES;
    if (!isFull && now() - this.#trimmedAt < TRIM_AGE) return;
    try {
      await trimRejected(database, now());
      await trimWaveforms(database, now(), waveformDays);
      this.#entries = 0;
      this.#bytes = 0;
      this.#trimmedAt = now();
    } catch (cause) {
      observe({ kind: 'trim-failed', error: cause instanceof Error ? cause : new Error(String(cause)) });
    }
  }
}
