import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { SiteDocument } from '../../../shared/wire/site-document.ts';
import type { HeardAnswer, WiringAnswer } from '../../../shared/wire/wiring.ts';
import { accept, type Change } from '../../../shared/wiring/accept.ts';
import { heardKey } from '../../../shared/wiring/heard.ts';
import type { Proposal } from '../../../shared/wiring/pattern.ts';
import { askAgain } from '../net/ask-again.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';
import { heardValue } from './heard-value.ts';
import { serverClock } from '../net/server-clock.svelte.ts';

const AGAIN_MS = 3_000;

/** What is about to be written into the site's document: looked at as a diff before it is sent. */
export interface Draft {
  readonly proposals: readonly Proposal[];
  readonly changes: readonly Change[];
  readonly document: SiteDocument;
}

/** What is talking at a site and isn't mapped: asked again every few seconds, for it is looked at while somebody wires. */
export class WiringDesk {
  answer = $state.raw<WiringAnswer | null>(null);
  document = $state.raw<SiteDocument | null>(null);
  draft = $state.raw<Draft | null>(null);
  refused = $state.raw<Refused | null>(null);
  /** why what was asked wasn't done */
  failed = $state.raw<Refused | null>(null);
  said = $state('');
  isBusy = $state(false);
  readonly #site: string;

  constructor(site: string) {
    this.#site = site;
  }

  get #path(): string {
    return `/sites/${encodeURIComponent(this.#site)}`;
  }

  follow(): () => void {
    return askAgain((signal) => this.#fetch(signal), AGAIN_MS);
  }

  async #fetch(signal?: AbortSignal): Promise<void> {
    try {
      if (this.document === null) this.document = await fetchAnswer<SiteDocument>(this.#path, {}, signal);
      this.answer = await fetchAnswer<WiringAnswer>(`${this.#path}/wiring`, {}, signal);
      serverClock.set(this.answer.serverTime);
      this.refused = null;
    } catch (error) {
      if (signal?.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  listen(filters: readonly string[], minutes: number): Promise<void> {
    return this.#send(() => sendJson('POST', '/listening', { filters, minutes }), 'Listening.');
  }

  stopListening(): Promise<void> {
    return this.#send(() => sendJson('DELETE', '/listening'), 'No longer listening.');
  }

  ignore({ topic, pointer }: HeardAnswer, ignore: boolean): Promise<void> {
    const said = ignore ? 'Ignored.' : 'Shown again.';
    return this.#send(
      () => sendJson('POST', `${this.#path}/wiring/ignore`, { topic, pointer, ignore }),
      said,
    );
  }

  /** Shows what accepting would change, in the document as it is now. */
  async propose(proposals: readonly Proposal[]): Promise<void> {
    await this.#send(async () => {
      const now = await fetchAnswer<SiteDocument>(this.#path);
      this.document = now;
      this.draft = { proposals, ...accept(now, proposals) };
    }, '');
  }

  async save(): Promise<void> {
    const { draft } = this;
    if (!draft) return;
    const count = draft.changes.length;
    await this.#send(
      async () => {
        await sendJson('PUT', `${this.#path}?from=now`, draft.document);
        this.document = draft.document;
        this.draft = null;
      },
      count === 1 ? 'One point is mapped.' : `${count} points are mapped.`,
    );
  }

  async #send(work: () => Promise<unknown>, said: string): Promise<void> {
    this.isBusy = true;
    this.failed = null;
    try {
      await work();
      this.said = said;
      await this.#fetch();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.failed = error;
    } finally {
      this.isBusy = false;
    }
  }
}

/** A proposal of what a person has chosen for something heard. */
export const proposalOf = (heard: HeardAnswer, device: string, signal: SignalName): Proposal => ({
  ...{ device, signal },
  heard: heardValue(heard),
});

export const keyOf = (heard: HeardAnswer): string => heardKey(heard);
