import type { BoardAnswer } from '../../../shared/wire/status.ts';
import { readSite, withEvents, withParts } from '../view/read-answer.ts';
import type { SiteView } from '../view/site-view.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, type Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** The board's sites, live. */
export class BoardData {
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

/** A frame laid over the sites held; a site that isn't held comes with the next fetch. */
export function framed(sites: readonly SiteView[], frame: Frame): readonly SiteView[] {
  if (frame.kind === 'status') {
    const parts = new Map(frame.sites.map((site) => [site.id, site]));
    return sites.map((site) => {
      const newer = parts.get(site.id);
      return newer ? withParts(site, newer) : site;
    });
  }
  if (frame.kind !== 'event') return sites;
  const touched = new Set([
    ...frame.events.map((event) => event.site),
    ...frame.withdrawn.map(({ site }) => site),
  ]);
  const withdrawn = frame.withdrawn.map(({ id }) => id);
  return sites.map((site) => (touched.has(site.id) ? withEvents(site, frame.events, withdrawn) : site));
}
