import { Refused } from './http.ts';
import { frameOrder, type RoomPlace } from './frame-order.ts';
import { enter, type Frame } from './live.ts';

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

export function followRoom<A extends RoomPlace>(followed: Followed<A>): () => void {
  let held: RoomPlace | null = null;
  let joined = false;
  let running: AbortController | null = null;
  let waiting: Frame[] = [];
  let timer: ReturnType<typeof setTimeout> | undefined;

  const fetchNow = async (): Promise<void> => {
    running?.abort();
    clearTimeout(timer);
    const mine = (running = new AbortController());
    try {
      const answer = await followed.fetch(mine.signal);
      if (mine.signal.aborted) return;
      held = { epoch: answer.epoch, revision: answer.revision };
      followed.take(answer);
      followed.failed(null);
      running = null;
      const late = waiting;
      waiting = [];
      for (const frame of late) receive(frame);
      if (!joined) timer = setTimeout(fetchNow, POLL_MS);
    } catch (error) {
      if (mine.signal.aborted) return;
      running = null;
      if (!(error instanceof Refused)) throw error;
      followed.failed(error);
      timer = setTimeout(fetchNow, RETRY_MS);
    }
  };

  const receive = (frame: Frame): void => {
    if (running) {
      waiting = waiting.length < WAITING_BOUND ? [...waiting, frame] : [];
      return;
    }
    const order = frameOrder(held, frame);
    if (order === 'fetch-again') void fetchNow();
    if (order !== 'apply') return;
    held = { epoch: frame.epoch, revision: frame.revision };
    followed.frame(frame);
  };

  const leave = enter({
    name: followed.room,
    joined: (answer) => {
      joined = answer.ok;
      clearTimeout(timer);
      if (!answer.ok) return followed.failed(new Refused(404, answer.says));
      const current = held?.epoch === answer.epoch && held.revision === answer.revision;
      if (!current) void fetchNow();
    },
    frame: receive,
    parted: () => {
      joined = false;
      timer = setTimeout(fetchNow, POLL_MS);
    },
  });
  void fetchNow();
  return () => {
    leave();
    running?.abort();
    clearTimeout(timer);
  };
}
