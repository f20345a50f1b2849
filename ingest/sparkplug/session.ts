import { MILLISECOND, REACH, SECOND, type Instant } from '../../shared/base/instant.ts';
import { Births } from './births.ts';
import type { Payload } from './payload.ts';
import type { Stale } from './said.ts';

/** A time further ahead of ours than this is no clock's. */
const NO_CLOCK = 86_400 * SECOND;

/** One life of an edge node, from its NBIRTH on: what was named, which `seq` comes next, how far it is known. */
export class Session {
  readonly bdSeq: string | null;
  readonly #bornAt: number | null;
  readonly #arrivedAt: Instant;
  readonly #births = new Map<string, Births>();
  /** prints of the last messages, by `seq` */
  readonly #prints: string[] = [];
  #next: number;
  #lastClaimed: Instant | null = null;
  readonly #birthPrint: string;
  /** when the birth was sent: what it says is so from here on */
  readonly firstClaim: Instant;

  constructor(birth: Payload, print: string, arrivedAt: Instant) {
    this.bdSeq = bdSeqOf(birth);
    this.#bornAt = birth.timestamp;
    this.#arrivedAt = arrivedAt;
    this.#next = birth.seq!;
    this.firstClaim = instantOf(birth.timestamp) ?? claims(birth).reduce((a, b) => Math.min(a, b), Infinity);
    this.#birthPrint = print;
    this.#births.set('', new Births(birth.metrics));
    this.pass(birth, print, arrivedAt);
  }

  /** The newest instant that was claimed; null: none was. */
  get lastClaimed(): Instant | null {
    return this.#lastClaimed;
  }

  births(device: string): Births | null {
    return this.#births.get(device) ?? null;
  }

  /** How many messages lie between what comes next and this one. */
  ahead(seq: number): number {
    return (seq - this.#next) & 255;
  }

  isCopy(seq: number | null, print: string): boolean {
    return print === this.#birthPrint || (seq !== null && this.#prints[seq] === print);
  }

  /** It was sent before the birth and has only just been overtaken by it. (Later, a clock was set back.) */
  isBefore(sentAt: number | null, at: Instant, reorder: number): boolean {
    return (
      sentAt !== null && this.#bornAt !== null && sentAt < this.#bornAt && at < this.#arrivedAt + reorder
    );
  }

  /** It was its turn; it came at `at`. */
  pass(payload: Payload, print: string, at: Instant): void {
    this.#prints[payload.seq!] = print;
    this.#next = (payload.seq! + 1) & 255;
    for (const t of claims(payload))
      if (t < at + NO_CLOCK && t > (this.#lastClaimed ?? -Infinity)) this.#lastClaimed = t;
  }

  bear(device: string, { metrics }: Payload): void {
    this.#births.set(device, new Births(metrics));
  }

  /** A device's death: stale from when its edge node says, or from after the last that is known. */
  end(device: string, { timestamp }: Payload): Stale[] {
    this.#births.delete(device);
    const t = instantOf(timestamp) ?? (this.#lastClaimed === null ? null : this.#lastClaimed + 1);
    return t === null ? [] : [{ device, t }];
  }
}

const claims = ({ timestamp, metrics }: Payload): Instant[] =>
  [timestamp, ...metrics.map((metric) => metric.timestamp)].flatMap((ms) => instantOf(ms) ?? []);

/** Unix milliseconds as an instant; null: no time, or none that could be stored. */
const instantOf = (ms: number | null): Instant | null =>
  ms === null || ms * MILLISECOND >= REACH ? null : ms * MILLISECOND;

/** The number that ties a death to its birth; null: the payload has none. */
export function bdSeqOf({ metrics }: Payload): string | null {
  const value = metrics.find(({ name }) => name === 'bdSeq')?.value;
  return value?.field === 'int' || value?.field === 'long' ? String(value.value) : null;
}
