import type { ProofAnswer } from '../../../shared/wire/proof-answer.ts';
import type { MarkKind } from '../../../shared/proof/session.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';
import { enter, type Frame } from '../net/live.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { proofMarks } from './marks.svelte.ts';

/** A site's proof: asked for again when its room tells of samples or events, every five seconds besides, and after each press. */
const AGAIN_MS = 5_000;
/** a burst of frames is one question */
const SOON_MS = 1_000;

export class LiveProof {
  readonly site: string;
  #soon: ReturnType<typeof setTimeout> | undefined;
  answer = $state.raw<ProofAnswer | null>(null);
  refused = $state.raw<Refused | null>(null);
  /** what was pressed last and can't be */
  unsaid = $state.raw<string | null>(null);
  busy = $state(false);

  constructor(site: string) {
    this.site = site;
  }

  follow(): () => void {
    const leave = askAgain((signal) => this.#fetch(signal), AGAIN_MS);
    const part = enter({
      name: `site:${this.site}`,
      joined: () => this.#ask(),
      frame: (frame: Frame) => {
        if (frame.kind === 'samples' || frame.kind === 'event') this.#ask();
      },
      parted: () => undefined,
    });
    return () => {
      clearTimeout(this.#soon);
      this.#soon = undefined;
      leave();
      part();
    };
  }

  #ask(): void {
    this.#soon ??= setTimeout(() => {
      this.#soon = undefined;
      void this.#fetch();
    }, SOON_MS);
  }

  async mark(kind: MarkKind, on: string, note = ''): Promise<void> {
    const session = this.answer?.session?.id;
    if (session === undefined) return;
    this.unsaid = await proofMarks.mark({ site: this.site, session, kind, on, note });
    await this.#fetch();
  }

  begin = (): Promise<void> => this.#press('begin');
  end = (): Promise<void> => this.#press('end');
  drill = (): Promise<void> => this.#press('drill');
  answerDrill = (): Promise<void> => this.#press('drill/answer');
  correct = (fault: string, diff: string): Promise<void> => this.#press('corrections', { fault, diff });

  async #press(what: string, body?: unknown): Promise<void> {
    this.busy = true;
    try {
      this.#take(await sendJson<ProofAnswer>('POST', `${this.#path}/${what}`, body));
      this.unsaid = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.unsaid = error.message;
    } finally {
      this.busy = false;
    }
  }

  get #path(): string {
    return `/sites/${encodeURIComponent(this.site)}/proof`;
  }

  #take(answer: ProofAnswer): void {
    this.answer = answer;
    this.refused = null;
    serverClock.set(answer.serverTime);
  }

  async #fetch(signal?: AbortSignal): Promise<void> {
    try {
      this.#take(await fetchAnswer<ProofAnswer>(this.#path, {}, signal));
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }
}
