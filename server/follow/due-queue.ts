import type { DueSubject } from '../../db/follow-work.ts';
import { rest } from '../bell.ts';
import type { Turn } from './step.ts';
import type { Stepped } from './steps.ts';

/** Most subjects of one transaction. */
const AT_ONCE = 16;

const foldsEdges = ({ kind }: DueSubject): boolean => kind === 'panel' || kind === 'space';

/**
 * Who waits, who is being folded, and whose turn it is with an unfinished generation. As many subjects as a look finds at
 * most, and as many urgent ones.
 */
export class DueQueue {
  #due: DueSubject[] = [];
  readonly #busy = new Set<number>();
  /** a transaction with others has failed */
  readonly #parted = new Set<number>();
  /** since the last look began */
  readonly #doneSince = new Set<number>();
  readonly #turns = new Map<number, Turn>();
  #takers: ((subjects: readonly DueSubject[] | null) => void)[] = [];
  #wake: (() => void) | null = null;
  #hungry: (() => void) | null = null;
  #wanted = true;
  #ended = false;
  readonly #workers: number;

  constructor(workers: number) {
    this.#workers = workers;
  }

  wantLook(): void {
    this.#wanted = true;
    this.#wake?.();
  }

  /** Comes back when a look is wanted, or after the time. */
  async lookWanted(milliseconds: number): Promise<void> {
    if (!this.#wanted && !this.#ended) {
      await rest(milliseconds, new Promise((wake) => (this.#wake = wake)));
      this.#wake = null;
    }
    this.#wanted = false;
    this.#doneSince.clear();
  }

  /** a worker has nothing to take */
  get isHungry(): boolean {
    return this.#takers.length > 0 || this.#ended;
  }

  /** Comes back when a worker has nothing to take, or after the time. */
  async untilHungry(milliseconds: number): Promise<void> {
    if (this.isHungry) return;
    await rest(milliseconds, new Promise((wake) => (this.#hungry = wake)));
    this.#hungry = null;
  }

  /** Before those that wait already. */
  putFirst(urgent: readonly DueSubject[]): void {
    const fresh = urgent.filter(({ id }) => !this.#busy.has(id) && !this.#doneSince.has(id));
    const ids = new Set(fresh.map(({ id }) => id));
    this.#due = [...fresh, ...this.#due.filter(({ id }) => !ids.has(id))];
  }

  /** What a look found. Who was taken while it looked may be done since, and is looked for again. */
  replace(due: readonly DueSubject[]): void {
    this.#due = due.filter(({ id }) => !this.#busy.has(id) && !this.#doneSince.has(id));
    while (this.#takers.length > 0 && this.#due.length > 0) this.#takers.shift()!(this.#begin());
  }

  /** Some that wait, the first of them first; null: there will be no more. */
  take(): Promise<readonly DueSubject[] | null> {
    if (this.#ended) return Promise.resolve(null);
    if (this.#due.length > 0) return Promise.resolve(this.#begin());
    this.wantLook();
    this.#hungry?.();
    return new Promise((resolve) => this.#takers.push(resolve));
  }

  #begin(): readonly DueSubject[] {
    const first = this.#due[0]!;
    const share = Math.min(AT_ONCE, Math.ceil(this.#due.length / this.#workers));
    const other = this.#due.findIndex((one, i) => i === share || (i > 0 && !this.#goTogether(first, one)));
    const begun = this.#due.splice(0, other < 0 ? share : other);
    for (const { id } of begun) this.#busy.add(id);
    return begun;
  }

  /**
   * Never a unit with what folds its edges: a step that changes edges writes work for those, and theirs was read before. Nor
   * what has failed with others.
   */
  #goTogether(a: DueSubject, b: DueSubject): boolean {
    return foldsEdges(a) === foldsEdges(b) && !this.#parted.has(a.id) && !this.#parted.has(b.id);
  }

  /** What failed together is taken one by one, so that only what can't be done fails again. */
  partLater(subjects: readonly DueSubject[]): void {
    for (const { id } of subjects) this.#parted.add(id);
  }

  turnOf = (subject: DueSubject): Turn => this.#turns.get(subject.id) ?? 'live';

  done(subjects: readonly DueSubject[], steps: readonly Stepped[]): void {
    for (const { id } of subjects) this.#busy.delete(id);
    for (const { subject, outcome } of steps) {
      this.#doneSince.add(subject.id);
      this.#parted.delete(subject.id);
      if (outcome.kind === 'more' && outcome.turn === 'refold') this.#turns.set(subject.id, 'refold');
      else this.#turns.delete(subject.id);
    }
  }

  end(): void {
    this.#ended = true;
    this.#due = [];
    for (const taker of this.#takers.splice(0)) taker(null);
    this.wantLook();
    this.#hungry?.();
  }
}
