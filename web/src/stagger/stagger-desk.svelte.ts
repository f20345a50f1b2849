import type { ReplayAnswer } from '../../../shared/wire/replay-answer.ts';
import type { ProposalAnswer, StaggerPlanAnswer } from '../../../shared/wire/stagger-answer.ts';
import type { SetAsk, StaggerAsk } from '../../../shared/wire/stagger-ask.ts';
import { replayAskOf, replayedRestart, type ReplayedRestart } from '../../../shared/wire/stagger-replay.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';

/** A panel's plan as the page has it: what was asked, its answer, the proposals, and restarts replayed under it. */
const LOOK_MS = 250;
/** replayed at once, the newest first */
const MOST_REPLAYED = 3;

interface Proposals {
  readonly items: readonly ProposalAnswer[];
}

export class StaggerDesk {
  readonly site: string;
  readonly panel: string;
  answer = $state.raw<StaggerPlanAnswer | null>(null);
  proposals = $state.raw<readonly ProposalAnswer[]>([]);
  /** why the plan can't be had */
  refused = $state.raw<Refused | null>(null);
  /** why the last step wasn't taken */
  unsaved = $state.raw<Refused | null>(null);
  replayed = $state.raw<Readonly<Record<string, ReplayedRestart | string>>>({});
  busy = $state(false);
  #stop = new AbortController();

  constructor(site: string, panel: string) {
    this.site = site;
    this.panel = panel;
  }

  get #path(): string {
    return `/panels/${encodeURIComponent(this.site)}/${encodeURIComponent(this.panel)}`;
  }

  get open(): ProposalAnswer | null {
    return this.proposals.find(({ state }) => state === 'drafted' || state === 'agreed') ?? null;
  }

  load(): () => void {
    this.#stop = new AbortController();
    void this.#try('refused', async (signal) => {
      this.proposals = (await fetchAnswer<Proposals>(`${this.#path}/proposals`, {}, signal)).items;
      await this.#plan({}, signal);
    });
    return () => this.#stop.abort();
  }

  ask(asked: StaggerAsk): Promise<void> {
    return this.#try('unsaved', (signal) => this.#plan(asked, signal));
  }

  async #plan(asked: StaggerAsk, signal: AbortSignal): Promise<void> {
    this.answer = await sendJson<StaggerPlanAnswer>('POST', `${this.#path}/stagger-plan`, asked, { signal });
    this.replayed = {};
  }

  draft(): Promise<void> {
    return this.#try('unsaved', async (signal) => {
      await sendJson('POST', `${this.#path}/proposals`, this.answer?.asked ?? {}, { signal });
      await this.#again(signal);
    });
  }

  step(proposal: string, step: 'agree' | 'withdraw'): Promise<void> {
    return this.#send(proposal, step, {});
  }

  set(proposal: string, asked: SetAsk): Promise<void> {
    return this.#send(proposal, 'set', asked);
  }

  #send(proposal: string, step: string, body: object): Promise<void> {
    return this.#try('unsaved', async (signal) => {
      await sendJson('POST', `${this.#path}/proposals/${proposal}/${step}`, body, { signal });
      await this.#again(signal);
    });
  }

  /** What stands after a step: the proposals, and the plan, which leans on what is recorded. */
  async #again(signal: AbortSignal): Promise<void> {
    this.proposals = (await fetchAnswer<Proposals>(`${this.#path}/proposals`, {}, signal)).items;
    await this.#plan(this.answer?.asked ?? {}, signal);
  }

  /** The last restarts, each run again with what is proposed. */
  replay(): Promise<void> {
    return this.#try('unsaved', async (signal) => {
      const { answer } = this;
      if (!answer) return;
      const plan = this.open?.plan ?? answer.plan;
      for (const restart of answer.restarts.toReversed().slice(0, MOST_REPLAYED)) {
        const asked = replayAskOf(this.site, plan, restart);
        if (!asked) return;
        const done = await this.#replayed(asked, signal);
        const says = done.result
          ? replayedRestart(done.result, restart, { plan, minimum: answer.panel.minimumStartSeparation })
          : (done.says ?? 'It was cancelled.');
        this.replayed = { ...this.replayed, [restart.event]: says };
      }
    });
  }

  async #replayed(asked: object, signal: AbortSignal): Promise<ReplayAnswer> {
    let answer = await sendJson<ReplayAnswer>('POST', '/replay', asked, { signal });
    while (answer.state === 'waiting' || answer.state === 'running') {
      await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
      answer = await fetchAnswer<ReplayAnswer>(`/replay/${answer.id}`, {}, signal);
    }
    return answer;
  }

  async #try(into: 'refused' | 'unsaved', work: (signal: AbortSignal) => Promise<void>): Promise<void> {
    const { signal } = this.#stop;
    this[into] = null;
    this.busy = true;
    try {
      await work(signal);
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this[into] = error;
    } finally {
      this.busy = false;
    }
  }
}
