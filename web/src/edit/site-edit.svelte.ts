import type { Instant } from '../../../shared/base/instant.ts';
import { same } from '../../../shared/base/same.ts';
import { pointerOf, type Path } from '../../../shared/edit/change.ts';
import { differences } from '../../../shared/edit/differences.ts';
import type { Field } from '../../../shared/edit/field.ts';
import { typedInto } from '../../../shared/edit/inputs.ts';
import { mergeEdits } from '../../../shared/edit/merge.ts';
import { parseConfiguration, type Fault } from '../../../shared/wire/configuration.ts';
import type { SiteHistoryAnswer, SiteSave, SiteSaved, SiteSaveList } from '../../../shared/wire/service.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';
import { changedQuery } from '../address/place.ts';
import { faultsByInput } from './faults-by-input.ts';
import { keepEdit, readEdit } from './kept-edit.ts';

/** Somebody saved while this edit was open. */
export interface Conflict {
  readonly theirs: unknown;
  readonly revision: number;
  readonly save: SiteSave | null;
}

const CHECK_MS = 200;
const KEEP_MS = 300;

/**
 * A site’s document while somebody changes it: what it was, what it is to be, what is wrong with that. The edit is the
 * document itself; it is kept on this device at every change, and holds against whatever is saved meanwhile.
 */
export class SiteEdit {
  readonly site: string;
  base = $state.raw<unknown>(null);
  draft = $state.raw<unknown>(null);
  /** 0: the site isn’t there yet */
  revision = $state(0);
  conflict = $state.raw<Conflict | null>(null);
  refused = $state.raw<Refused | null>(null);
  /** why it wasn’t saved, where no input is to blame */
  unsaved = $state.raw<Refused | null>(null);
  /** since when an edit of before is taken up again */
  resumedFrom = $state.raw<Instant | null>(null);
  busy = $state(false);
  #checked = $state.raw<unknown>(null);
  #told = $state.raw<readonly Fault[]>([]);
  #timers: { check?: ReturnType<typeof setTimeout>; keep?: ReturnType<typeof setTimeout> } = {};

  readonly changes = $derived(this.draft === null ? [] : differences(this.base, this.draft));
  readonly isChanged = $derived(!same(this.base, this.draft));
  readonly faults: readonly Fault[] = $derived.by(() => {
    if (this.#checked === null) return [];
    const parsed = parseConfiguration(this.site, this.#checked);
    return parsed.ok ? this.#told : parsed.faults;
  });
  /** by the input that they are shown at; those of a part as a whole by its pointer and a star */
  readonly #byInput = $derived(faultsByInput(this.faults));

  constructor(site: string) {
    this.site = site;
  }

  get #path(): string {
    return `/sites/${encodeURIComponent(this.site)}`;
  }

  faultAt(path: Path): string {
    return (this.#byInput.get(pointerOf(path)) ?? []).join(' ');
  }

  /** How many faults lie in a part and all inside it. */
  faultsIn(path: Path): number {
    const start = `${pointerOf(path)}/`;
    return this.faults.filter(({ pointer }) => `${pointer}/`.startsWith(start)).length;
  }

  load(): () => void {
    const stop = new AbortController();
    const flush = () => this.#keepNow();
    addEventListener('pagehide', flush);
    void this.#load(stop.signal);
    return () => {
      stop.abort();
      removeEventListener('pagehide', flush);
      flush();
    };
  }

  async #load(signal: AbortSignal): Promise<void> {
    const found = readEdit(this.site);
    try {
      const [document, revision] = await this.#fetch(signal);
      this.base = document;
      this.revision = revision;
      if (found === null || same(found.draft, document)) return this.#take(document);
      this.resumedFrom = found.at;
      if (found.revision === revision) return this.#take(found.draft);
      this.base = found.base;
      this.#take(found.draft);
      await this.#meet(document, revision, signal);
    } catch (error) {
      if (signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      if (error.status === 404 && found?.revision === 0) {
        this.base = {};
        this.revision = 0;
        this.#take(found.draft);
      } else this.refused = error;
    }
  }

  async #fetch(signal?: AbortSignal): Promise<readonly [unknown, number]> {
    const { revision } = await fetchAnswer<SiteHistoryAnswer>(`${this.#path}/versions`, {}, signal);
    return [await fetchAnswer<unknown>(this.#path, {}, signal), revision];
  }

  #take(draft: unknown): void {
    this.draft = draft;
    this.#checked = draft;
  }

  /** Somebody else has saved: theirs beside ours. Where both come to the same, nothing is left to decide. */
  async #meet(theirs: unknown, revision: number, signal?: AbortSignal): Promise<void> {
    const { items } = await fetchAnswer<SiteSaveList>(`${this.#path}/saves`, { limit: 1 }, signal);
    this.conflict = { theirs, revision, save: items[0] ?? null };
  }

  type(path: Path, field: Field, text: string): void {
    this.change(typedInto(this.draft, path, field, text));
  }

  change(draft: unknown): void {
    this.draft = draft;
    this.#told = [];
    this.unsaved = null;
    clearTimeout(this.#timers.check);
    this.#timers.check = setTimeout(() => (this.#checked = this.draft), CHECK_MS);
    clearTimeout(this.#timers.keep);
    this.#timers.keep = setTimeout(() => this.#keepNow(), KEEP_MS);
  }

  #keepNow(): void {
    clearTimeout(this.#timers.keep);
    if (this.draft === null) return;
    const { base, draft, revision } = this;
    const isWorth = this.isChanged || revision === 0;
    keepEdit(this.site, isWorth ? { revision, base, draft, at: Date.now() * 1000 } : null);
  }

  /** Back to what is saved. */
  drop(): void {
    this.#take(this.base);
    this.resumedFrom = null;
    this.#told = [];
    keepEdit(this.site, null);
  }

  /** `mine`: my changes on top of theirs; `theirs`: mine are dropped. */
  decide(whose: 'mine' | 'theirs'): void {
    const { conflict } = this;
    if (!conflict) return;
    const merged = mergeEdits(this.base, this.draft, conflict.theirs).document;
    this.base = conflict.theirs;
    this.revision = conflict.revision;
    this.conflict = null;
    this.#take(whose === 'mine' ? merged : conflict.theirs);
    this.#keepNow();
  }

  /** null: not saved, and said why. `from`: an instant, `now` or `always`. */
  async save(from: string | null, document: unknown = this.draft): Promise<SiteSaved | null> {
    this.busy = true;
    this.unsaved = null;
    const words = changedQuery('', { seen: String(this.revision), from });
    try {
      const saved = await sendJson<SiteSaved>('PUT', `${this.#path}${words}`, document);
      this.revision = saved.revision;
      this.base = document;
      this.resumedFrom = null;
      this.#take(document);
      keepEdit(this.site, null);
      return saved;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      await this.#refuse(error);
      return null;
    } finally {
      this.busy = false;
    }
  }

  async #refuse(error: Refused): Promise<void> {
    this.#told = error.faults;
    if (error.status === 409 && this.revision > 0) {
      const [theirs, revision] = await this.#fetch();
      await this.#meet(theirs, revision);
    } else if (error.faults.length === 0) this.unsaved = error;
  }
}
