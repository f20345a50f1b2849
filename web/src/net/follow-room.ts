import { Refused } from './http.ts';
import { frameOrder, type RoomPlace } from './frame-order.ts';
import { enter, type Frame } from './live.ts';
import type { JoinAnswer } from '../../../shared/wire/frames.ts';

/**
 * Keeps an answer and its room together: fetches, joins, applies frames in order, fetches again on a gap, on a new
 * server process, and by itself every 10 s while the socket isn't there. Frames that come during a fetch wait for it.
 */
export interface Followed<A> {
  readonly room: string;
  fetch(signal: AbortSignal): Promise<A>;
  take(answer: A): void;
  frame(frame: Frame): void;
  /** null: well again */
  failed(refused: Refused | null): void;
}

const POLL_MS = 10_000;
const RETRY_MS = 2_000;
const WAITING_BOUND = 500;

/** Follows until the answer is called. */
export function followRoom<A extends RoomPlace>(followed: Followed<A>): () => void {
  const following = new Following(followed);
  const leave = enter({
    name: followed.room,
    joined: (answer) => following.joined(answer),
    frame: (frame) => following.receive(frame),
    parted: () => following.parted(),
  });
  void following.fetch();
  return () => {
    leave();
    following.stop();
  };
}

class Following<A extends RoomPlace> {
  readonly #followed: Followed<A>;
  #held: RoomPlace | null = null;
  /** the room's place when it was entered; null: not in it */
  #joined: RoomPlace | null = null;
  #running: AbortController | null = null;
  #waiting: Frame[] = [];
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(followed: Followed<A>) {
    this.#followed = followed;
  }

  async fetch(): Promise<void> {
    this.stop();
    const mine = (this.#running = new AbortController());
    try {
      const answer = await this.#followed.fetch(mine.signal);
      if (!mine.signal.aborted) this.#take(answer);
    } catch (error) {
      if (mine.signal.aborted) return;
      this.#running = null;
      if (!(error instanceof Refused)) throw error;
      this.#followed.failed(error);
      this.#again(RETRY_MS);
    }
  }

  #take(answer: A): void {
    this.#held = { epoch: answer.epoch, revision: answer.revision };
    this.#followed.take(answer);
    this.#followed.failed(null);
    this.#running = null;
    const late = this.#waiting;
    this.#waiting = [];
    if (this.#isBehindJoin()) return void this.fetch();
    for (const frame of late) this.receive(frame);
    if (this.#joined === null) this.#again(POLL_MS);
  }

  receive(frame: Frame): void {
    if (this.#running) {
      this.#waiting = this.#waiting.length < WAITING_BOUND ? [...this.#waiting, frame] : [];
      return;
    }
    const order = frameOrder(this.#held, frame);
    if (order === 'fetch-again') void this.fetch();
    if (order !== 'apply') return;
    this.#held = { epoch: frame.epoch, revision: frame.revision };
    this.#followed.frame(frame);
  }

  joined(answer: JoinAnswer): void {
    clearTimeout(this.#timer);
    this.#joined = answer.ok ? answer : null;
    if (!answer.ok) return this.#followed.failed(new Refused(404, answer.says));
    if (!this.#running && this.#isBehindJoin()) void this.fetch();
  }

  /** What is held is from before the room was entered: frames in between went unheard. */
  #isBehindJoin(): boolean {
    const [held, joined] = [this.#held, this.#joined];
    if (joined === null) return false;
    return held === null || held.epoch !== joined.epoch || held.revision < joined.revision;
  }

  parted(): void {
    this.#joined = null;
    this.#again(POLL_MS);
  }

  stop(): void {
    this.#running?.abort();
    clearTimeout(this.#timer);
  }

  #again(milliseconds: number): void {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.fetch(), milliseconds);
  }
}
