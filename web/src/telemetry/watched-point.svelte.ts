import {
  inSeconds,
  parseInstant,
  seconds,
  formatInstant,
  type Instant,
} from '../../../shared/base/instant.ts';
import type { SeriesAnswer } from '../../../shared/wire/series.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { enter, type Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** One value of the point that is watched. */
export interface WatchedValue {
  readonly t: Instant;
  readonly v: number;
  /** s from the time that it carries until the server told this page; null: it was there before */
  readonly lag: number | null;
}

/** How far back the drawing goes. */
export const WATCHED = seconds(600);
const PIXELS = 600;
/** values kept: ten minutes of three a second */
const KEPT = 2_000;

/** A point, live: what it said in the last ten minutes, and each value as it comes, over the site's room. */
export class WatchedPoint {
  values = $state.raw<readonly WatchedValue[]>([]);
  isLive = $state(false);
  refused = $state.raw<Refused | null>(null);
  readonly #site: string;
  readonly #device: string;
  readonly #signal: string;

  constructor(site: string, device: string, signal: string) {
    this.#site = site;
    this.#device = device;
    this.#signal = signal;
  }

  follow(): () => void {
    const stop = new AbortController();
    const leave = enter({
      name: `site:${this.#site}`,
      joined: (answer) => {
        this.isLive = answer.ok;
        void this.#fetch(stop.signal);
      },
      frame: (frame) => this.#take(frame),
      parted: () => (this.isLive = false),
    });
    void this.#fetch(stop.signal);
    return () => {
      stop.abort();
      leave();
    };
  }

  async #fetch(signal: AbortSignal): Promise<void> {
    const now = serverClock.exactly();
    try {
      const words = {
        ...{ site: this.#site, device: this.#device, signals: this.#signal, width: PIXELS },
        ...{ from: formatInstant(now - WATCHED), to: formatInstant(now + seconds(60)) },
      };
      const answer = await fetchAnswer<SeriesAnswer>('/series', words, signal);
      this.refused = null;
      const drawn = answer.series[0];
      if (!drawn) return;
      const v = drawn.kind === 'analog' ? drawn.last : drawn.v;
      this.#add(drawn.t.map((t, i) => ({ t: parseInstant(t)!, v: v[i]!, lag: null })));
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  #take(frame: Frame): void {
    if (frame.kind !== 'samples' || frame.site !== this.#site) return;
    const told = parseInstant(frame.serverTime)!;
    for (const { device, signal, t, v } of frame.points) {
      if (device !== this.#device || signal !== this.#signal) continue;
      const fresh = t.map((text, i): WatchedValue => {
        const at = parseInstant(text)!;
        return { t: at, v: v[i]!, lag: inSeconds(told - at) };
      });
      this.#add(fresh);
    }
  }

  #add(some: readonly WatchedValue[]): void {
    this.values = joined(this.values, some).slice(-KEPT);
  }
}

/** In order of time, each instant once; what was seen to come keeps how late it came. */
function joined(before: readonly WatchedValue[], some: readonly WatchedValue[]): WatchedValue[] {
  const all = [...before, ...some].sort(
    (a, b) => a.t - b.t || Number(a.lag !== null) - Number(b.lag !== null),
  );
  return all.filter(({ t }, i) => all[i + 1]?.t !== t);
}
