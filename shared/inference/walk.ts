import type { Instant } from '../base/instant.ts';
import type { Fold, FoldContext, Output, RecordPage } from './fold.ts';
import {
  BEGINNING,
  frontierOf,
  isSeen,
  keepKnown,
  NEVER,
  noteRow,
  overtaken,
  quietUntil,
  silencesBy,
  type Horizon,
} from './horizon.ts';
import { enterVersion, versionAt } from './sources.ts';

export interface Driven<S> {
  readonly keys: readonly string[];
  readonly horizon: Horizon;
  readonly fold: S;
}

/** One walk over rows in time order. With `fold` null it only keeps the horizon. */
export class Walk<S> {
  at: Instant;
  readonly #fold: Fold<S> | null;
  readonly #context: FoldContext;
  readonly #driven: Driven<S>;
  #version: number;
  #nextSilence: Instant = BEGINNING;
  #doubt: Instant = NEVER;
  #nextOvertaking: number;
  #unknowns: number;
  /** what the fold waits for, as last asked; asked again once something has touched its state */
  #waiting: Instant | null = null;
  #isTouched = true;

  constructor(fold: Fold<S> | null, context: FoldContext, driven: Driven<S>, through: Instant) {
    this.#fold = fold;
    this.#context = context;
    this.#driven = driven;
    this.at = through;
    this.#version = versionAt(context.history, through);
    this.#nextOvertaking = driven.horizon.rows;
    this.#unknowns = driven.horizon.unknown.filter((since) => since !== null).length;
  }

  take(page: RecordPage, from: number, to: number, out: Output | null): void {
    let i = from;
    while (i < to) {
      const t = page.t[i]!;
      this.#reach(t);
      for (; i < to && page.t[i] === t; i++) this.#row(page, i, t);
      this.at = t;
      if (out) this.settle(t, out);
    }
  }

  /** Let the fold decide what can be decided when rows have come up to `at`. */
  settle(at: Instant, out: Output): void {
    if (this.#isTouched) this.#waiting = this.#fold!.waiting(this.#driven.fold, this.#context);
    this.#isTouched = false;
    if (this.#waiting === null || this.#waiting > at) return;
    const frontier = this.frontier(at);
    if (this.#waiting > frontier) return;
    this.#fold!.settle(this.#driven.fold, this.#context, frontier, out);
    this.#isTouched = true;
  }

  /** Everything at or before is known for every source that holds anything back. */
  frontier(at: Instant): Instant {
    return Math.min(frontierOf(this.#driven.horizon, this.#context, at), this.#doubt);
  }

  /** Sources that have been silent for too long by `at` are unknown. */
  silence(at: Instant): void {
    const { fallen, next, doubt } = silencesBy(this.#driven.horizon, this.#context, at);
    this.#doubt = Math.min(this.#doubt, doubt);
    for (const { index, since } of fallen) this.#lose(index, since);
    this.#nextSilence = next;
  }

  /** Time has come to `at` without a row: other settings may hold, and sources may have been silent for too long. */
  pass(at: Instant): void {
    this.#reach(at);
    this.silence(at);
  }

  #reach(t: Instant): void {
    const { history } = this.#context;
    while (this.#version + 1 < history.length && history[this.#version + 1]!.from <= t) {
      const { from } = history[this.#version + 1]!;
      this.silence(from);
      const was = this.#context.sources.map(({ point }) => point);
      enterVersion(this.#context, ++this.#version);
      keepKnown(this.#driven.horizon, this.#context, was, from);
      this.#fold?.reconfigured(this.#driven.fold, this.#context, from);
      this.#isTouched = true;
      this.#nextSilence = BEGINNING;
    }
    if (t > this.#nextSilence) {
      const quiet = quietUntil(this.#driven.horizon, this.#context, t);
      if (quiet === null) this.silence(t);
      else this.#nextSilence = quiet;
    }
    if (this.#driven.horizon.rows > this.#nextOvertaking) this.#overtake();
  }

  #overtake(): void {
    const { horizon } = this.#driven;
    const { found, next } = overtaken(horizon, this.#context);
    for (const { index, since } of found) this.#lose(index, since);
    this.#nextOvertaking = next;
  }

  #lose(index: number, since: Instant): void {
    this.#driven.horizon.unknown[index] = since;
    this.#unknowns++;
    this.#fold?.silent(this.#driven.fold, this.#context, index, since);
    this.#isTouched = true;
  }

  #row(page: RecordPage, i: number, t: Instant): void {
    const index = page.source[i]!;
    const source = this.#context.sources[index]!;
    const quality = page.quality[i]!;
    // a source heard for the first time can fall silent from now on
    if (!isSeen(this.#driven.horizon, index)) this.#nextSilence = BEGINNING;
    noteRow(this.#driven.horizon, source, index, t, quality);
    if (this.#unknowns > 0 && source.kind !== 'edges') this.#resume(index, t);
    if (this.#fold) this.#give(page, i, t);
  }

  #give(page: RecordPage, i: number, t: Instant): void {
    const fold = this.#fold!;
    const { fold: state } = this.#driven;
    const index = page.source[i]!;
    const source = this.#context.sources[index]!;
    if (source.kind === 'edges') fold.takeEdge?.(state, this.#context, page.edges![i]!);
    else if (source.kind === 'life') {
      if (!fold.takeLife) return;
      fold.takeLife(state, this.#context, t);
    } else if (!source.point) return;
    else if (page.intervals?.[i]) fold.takeInterval?.(state, this.#context, index, page.intervals[i]);
    else {
      const value = page.value[i]!;
      const quality = page.quality[i]!;
      if (fold.takeCalm?.(state, this.#context, index, t, value, quality)) return;
      fold.take(state, this.#context, index, t, value, quality);
    }
    this.#isTouched = true;
  }

  /** A row of this source has come: it, or every on-change source of its gateway, is known again. */
  #resume(index: number, t: Instant): void {
    const { horizon } = this.#driven;
    const { sources } = this.#context;
    const gateway = sources[index]!.kind === 'life' ? sources[index]!.device : sources[index]!.point?.gateway;
    for (let i = 0; i < sources.length; i++) {
      if (horizon.unknown[i] === null) continue;
      const { kind, device, point } = sources[i]!;
      const alive = kind === 'life' ? device === gateway : point?.gateway === gateway;
      const back = point?.reporting.mode === 'polled' ? i === index && horizon.last[i] === t : alive;
      if (!back) continue;
      horizon.unknown[i] = null;
      this.#unknowns--;
      this.#nextSilence = BEGINNING;
      this.#fold?.resumed(this.#driven.fold, this.#context, i, t);
      this.#isTouched = true;
    }
  }
}
