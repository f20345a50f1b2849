import type { ReplayAnswer } from '../../../shared/wire/replay-answer.ts';
import type { ReplayAsk } from '../../../shared/wire/replay-ask.ts';
import type { UnitView } from '../../../shared/wire/unit-view.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

/** A replay as the page has it: the units with their settings as they are now, the question under way, its answer. */
const LOOK_MS = 250;
const MOST_UNITS = 12;

export class ReplayDesk {
  readonly site: string;
  readonly units: readonly string[];
  /** units that were named beyond what one form takes */
  readonly left: number;
  views = $state.raw<readonly UnitView[]>([]);
  answer = $state.raw<ReplayAnswer | null>(null);
  /** why the units, or the replay, can’t be had */
  refused = $state.raw<Refused | null>(null);
  #stop = new AbortController();

  constructor(site: string, units: readonly string[]) {
    this.site = site;
    this.units = units.slice(0, MOST_UNITS);
    this.left = units.length - this.units.length;
  }

  /** Reads the units; what it answers gives up what is under way. */
  open(): () => void {
    this.#stop = new AbortController();
    void this.#try(async (signal) => {
      const path = (unit: string) =>
        `/sites/${encodeURIComponent(this.site)}/units/${encodeURIComponent(unit)}`;
      const views = await Promise.all(
        this.units.map((unit) => fetchAnswer<UnitView>(path(unit), {}, signal)),
      );
      if (views[0]) serverClock.set(views[0].serverTime);
      this.views = views;
    });
    return () => {
      this.#stop.abort();
      if (this.answer && isUnderWay(this.answer)) void this.cancel();
    };
  }

  async ask(asked: ReplayAsk): Promise<void> {
    this.answer = null;
    await this.#try(async (signal) => {
      this.answer = await sendJson<ReplayAnswer>('POST', '/replay', asked, { signal });
      while (isUnderWay(this.answer) && !signal.aborted) {
        await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
        this.answer = await fetchAnswer<ReplayAnswer>(`/replay/${this.answer.id}`, {}, signal);
      }
    });
  }

  async cancel(): Promise<void> {
    const { answer } = this;
    if (!answer) return;
    await sendJson('DELETE', `/replay/${answer.id}`).catch(() => null);
    if (this.answer?.id === answer.id)
      this.answer = { ...answer, state: 'cancelled', says: 'It was cancelled.' };
  }

  async #try(work: (signal: AbortSignal) => Promise<void>): Promise<void> {
    const { signal } = this.#stop;
    this.refused = null;
    try {
      await work(signal);
    } catch (error) {
      if (signal.aborted || this.answer?.state === 'cancelled') return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}

export const isUnderWay = ({ state }: ReplayAnswer): boolean => state === 'waiting' || state === 'running';
