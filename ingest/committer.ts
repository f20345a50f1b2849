import { setTimeout as delay } from 'node:timers/promises';
import { retryDelay, retryReason } from '../db/sqlstate.ts';
import type { WatchMark } from '../db/watch-marks.ts';
import type { Batch, BatchMaker } from './batch.ts';
import { BatchWriter, type WriterOptions } from './batch-writer.ts';
import type { Message } from './message.ts';
import type { Observe } from './observation.ts';

/**
 * Takes received messages into the database, batch after batch, one transaction at a time. A batch is whatever has come
 * while the last one was being written: one message when it is quiet, committed at once; thousands under load, which are
 * decoded meanwhile. Between the two, where messages come one after another but a transaction would hold a handful, it is
 * held back for a moment: what a transaction costs by itself is then shared by many.
 *
 * A failure that may pass (sqlstate.ts) is tried again for as long as it takes; meanwhile nothing is acknowledged and the
 * receiver holds its broker back. A failure of the data halves the batch until the message that causes it is alone; that
 * one is set aside. The queue's bound is the receiver's: it stops receiving at its own high-water mark.
 */
export class Committer {
  readonly #writer: BatchWriter;
  readonly #observe: Observe;
  readonly #noticed: (message: Message) => void;
  readonly #running: Promise<void>;
  readonly #inFlight = { messages: 0, bytes: 0 };
  #queue: Queued[] = [];
  /** taken from the queue and decoded while the batch before is being written */
  #growing: Growing | null = null;
  #isWriting = false;
  /** messages and marks of the last transaction */
  #lastTaken = 0;
  #wake: () => void = () => {};
  #ending = false;

  constructor(options: CommitterOptions) {
    this.#noticed = options.noticed ?? (() => {});
    this.#writer = new BatchWriter(options);
    this.#observe = options.observe;
    this.#running = this.#run();
  }

  /** What was received and isn't committed: messages and the bytes of their payloads, and how many of them wait. */
  get load(): CommitLoad {
    return { ...this.#inFlight, waiting: this.#waiting };
  }

  get #waiting(): number {
    return this.#queue.length + (this.#growing?.taken.length ?? 0);
  }

  /** `message.committed` is called when its transaction has committed. */
  add(message: Message): void {
    this.#noticed(message);
    const bytes = message.payload.length;
    this.#inFlight.messages++;
    this.#inFlight.bytes += bytes;
    const done = () => {
      this.#inFlight.messages--;
      this.#inFlight.bytes -= bytes;
      message.committed();
    };
    this.#push({ message, mark: null, done });
  }

  /** Written when everything that was added before it is committed. */
  addMark(mark: WatchMark): Promise<void> {
    return new Promise((done) => this.#push({ message: null, mark, done }));
  }

  /** Commits what is there and ends. */
  async stop(): Promise<void> {
    this.#ending = true;
    this.#wake();
    await this.#running;
  }

  #push(queued: Queued): void {
    this.#queue.push(queued);
    if (this.#isWriting && this.#queue.length >= DECODED_AHEAD) this.#grow();
    this.#wake();
  }

  async #run(): Promise<void> {
    // where this fails, the first batch or watch mark reads it, again and again
    await this.#writer.prepare().catch((error: Error) => {
      this.#observe({ kind: 'commit-delayed', attempt: 0, error });
    });
    while (!this.#ending || this.#queue.length > 0 || this.#growing) {
      if (this.#queue.length === 0 && !this.#growing) {
        await new Promise<void>((wake) => (this.#wake = wake));
        continue;
      }
      if (this.#lastTaken >= GATHERED_FROM) await this.#gather();
      const { taken, made } = this.#take();
      this.#lastTaken = taken.length;
      this.#isWriting = true;
      await this.#commit(taken, made);
      this.#isWriting = false;
      for (const { done } of taken) done();
    }
  }

  /** Lets more come, while more does come: who waits for an acknowledgement before sending on isn't waited for. */
  async #gather(): Promise<void> {
    const until = performance.now() + GATHERED_MS;
    for (let before = -1; before < this.#waiting;) {
      before = this.#waiting;
      if (before >= GATHERED_MOST || this.#ending || performance.now() >= until) return;
      await delay(LOOK_MS);
    }
  }

  #take(): { readonly taken: readonly Queued[]; readonly made: Batch } {
    this.#grow();
    const { taken, maker } = this.#growing!;
    this.#growing = null;
    return { taken, made: maker.finish(marksOf(taken)) };
  }

  /** Moves what is queued into the batch that comes next, as far as its bounds allow. */
  #grow(): void {
    const growing = (this.#growing ??= { taken: [], bytes: 0, maker: this.#writer.begin() });
    let count = 0;
    for (const queued of this.#queue) {
      const { message } = queued;
      const bytes = growing.bytes + (message?.payload.length ?? 0);
      if (growing.taken.length > 0 && (growing.taken.length >= MOST_MESSAGES || bytes > MOST_BYTES)) break;
      growing.taken.push(queued);
      growing.bytes = bytes;
      if (message) growing.maker.add(message);
      count++;
    }
    this.#queue.splice(0, count);
  }

  /** Comes back when all of it is committed or set aside. */
  async #commit(taken: readonly Queued[], made: Batch | null = null): Promise<void> {
    const messages = taken.flatMap(({ message }) => message ?? []);
    const marks = marksOf(taken);
    const most = taken.length > 1 ? TIMEOUTS_BEFORE_HALVING : Infinity;
    const refused = await this.#tryUntilAnswered(() => this.#writer.write(messages, marks, made), most);
    if (!refused) return;
    if (taken.length > 1) {
      const middle = taken.length >> 1;
      await this.#commit(taken.slice(0, middle));
      await this.#commit(taken.slice(middle));
    } else if (messages[0]) {
      const [message] = messages;
      const also = await this.#tryUntilAnswered(() => this.#writer.setAside(message, refused), Infinity);
      if (also) throw also; // nowhere to keep it: it must not be acknowledged
    } else throw refused; // a watch mark by itself: no data are at fault, so the fault is ours
  }

  /** The error that no further try would mend, timing out again and again among them; null: done. */
  async #tryUntilAnswered(work: () => Promise<void>, mostTimeouts: number): Promise<Error | null> {
    for (let attempt = 1; ; attempt++) {
      try {
        await work();
        return null;
      } catch (cause) {
        const error = cause instanceof Error ? cause : new Error(String(cause));
        const reason = retryReason(error);
        if (reason === null || (reason === 'busy' && attempt >= mostTimeouts)) return error;
        this.#observe({ kind: 'commit-delayed', attempt, error });
        await delay(retryDelay(attempt, Math.random()));
      }
    }
  }
}

/** So many have come while a batch is being written: they are decoded meanwhile. */
const DECODED_AHEAD = 250;

/** Where the last transaction held so many, the next is held back for so long at most or until so many wait. */
const GATHERED_FROM = 4;
const GATHERED_MS = 50;
const GATHERED_MOST = 400;
const LOOK_MS = 5;

/** What one transaction takes at most; a single message may be larger (decode/json.ts bounds it). */
const MOST_MESSAGES = 5_000;
const MOST_BYTES = 2_000_000;

/** A batch that is refused for want of time so often is too large for this database: its halves may not be. */
const TIMEOUTS_BEFORE_HALVING = 3;

const marksOf = (taken: readonly Queued[]): WatchMark[] => taken.flatMap(({ mark }) => mark ?? []);

interface Growing {
  readonly taken: Queued[];
  bytes: number;
  readonly maker: BatchMaker;
}

interface CommitterOptions extends WriterOptions {
  /** sees each message as it is added; must not throw */
  readonly noticed?: (message: Message) => void;
}

export interface CommitLoad {
  readonly messages: number;
  readonly bytes: number;
  readonly waiting: number;
}

interface Queued {
  readonly message: Message | null;
  readonly mark: WatchMark | null;
  readonly done: () => void;
}
