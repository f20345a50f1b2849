import type { BoardAnswer } from '../../../shared/wire/status.ts';
import { framed } from '../view/framed.ts';
import { readSite } from '../view/read-answer.ts';
import type { SiteView } from '../view/site-view.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, type Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** The board's sites, live. */
export class LiveBoard {
  sites = $state.raw<readonly SiteView[]>([]);
  loaded = $state(false);
  refused = $state.raw<Refused | null>(null);

  follow(): () => void {
    return followRoom<BoardAnswer>({
      room: 'board',
      fetch: fetchBoard,
      take: (answer) => {
        serverClock.set(answer.serverTime);
        this.sites = answer.sites.map(readSite);
        this.loaded = true;
      },
      frame: (frame) => {
        serverClock.set(frame.serverTime);
        this.sites = framed(this.sites, frame);
      },
      failed: (refused) => (this.refused = refused),
    });
  }
}

/** Every page of the board's answer as one. */
async function fetchBoard(signal: AbortSignal): Promise<BoardAnswer> {
  const first = await fetchAnswer<BoardAnswer>('/board', {}, signal);
  const sites = [...first.sites];
  for (let cursor = first.cursor; cursor !== null;) {
    const next = await fetchAnswer<BoardAnswer>('/board', { cursor }, signal);
    sites.push(...next.sites);
    cursor = next.cursor;
  }
  return { ...first, sites };
}
