import { REFERENCE_SETTINGS, type ControlSettings } from '../../../shared/control/settings.ts';
import type { ControlInputs } from '../../../shared/control/state.ts';
import { readRehearsalLink, rehearsalLink } from '../../../shared/replay/rehearsal-link.ts';
import {
  changedFor,
  changedNow,
  QUIET_INPUTS,
  REHEARSAL_BOUNDS,
  rehearse,
  type Rehearsal,
} from '../../../shared/replay/rehearsal.ts';
import { inputSentences } from '../../../shared/wire/rehearsal-sentences.ts';
import { announcer } from '../page/announce.svelte.ts';

const EMPTY: Rehearsal = { settings: REFERENCE_SETTINGS, opening: QUIET_INPUTS, steps: [], until: 0 };
const TICK_MS = 100;

/** A rehearsal on the page: what was given so far, played in real time, faster, or from one thing to the next. */
export class RehearsalDesk {
  rehearsal = $state.raw<Rehearsal>(EMPTY);
  /** 0: it stands */
  speed = $state(0);
  /** why something wasn't done */
  says = $state('');
  /** where this was taken from, if anywhere */
  from = $state.raw<readonly string[]>([]);
  readonly shown = $derived(rehearse(this.rehearsal));
  readonly #keep: (link: string | null) => void;
  #timer: ReturnType<typeof setInterval> | undefined;

  /** `keep` is given the link whenever something was changed, or it stands. */
  constructor(keep: (link: string | null) => void) {
    this.#keep = keep;
  }

  get now(): number {
    return this.rehearsal.until;
  }

  open(link: string): void {
    const read = readRehearsalLink(link);
    if (read.ok) this.rehearsal = read.rehearsal;
    else this.says = read.says;
  }

  take(rehearsal: Rehearsal, from: readonly string[]): void {
    this.rehearsal = rehearsal;
    this.from = from;
    this.#kept();
  }

  give(change: Partial<ControlInputs>): void {
    this.#put(changedNow(this.rehearsal, change), inputSentences(change).join(' '));
  }

  giveFor(seconds: number, during: Partial<ControlInputs>, after: Partial<ControlInputs>): void {
    const said = `${inputSentences(during).join(' ')} For ${seconds} s.`;
    this.#put(changedFor(this.rehearsal, seconds * 1000, { during, after }), said);
  }

  turn(settings: Partial<ControlSettings>): void {
    this.rehearsal = { ...this.rehearsal, settings: { ...this.rehearsal.settings, ...settings } };
    this.#kept();
  }

  play(speed: number): void {
    this.pause();
    this.speed = speed;
    this.#timer = setInterval(() => this.#advance(TICK_MS * speed), TICK_MS);
  }

  pause(): void {
    clearInterval(this.#timer);
    if (this.speed !== 0) this.#kept();
    this.speed = 0;
  }

  /** To the next thing that happens, by itself or as was given; else a minute on. */
  step(): void {
    this.pause();
    const { steps, until } = this.rehearsal;
    const next = Math.min(steps.find(({ at }) => at > until)?.at ?? Infinity, this.shown.due ?? Infinity);
    this.#to(Number.isFinite(next) && next > until ? next : until + 60_000);
    this.#kept();
  }

  /** To the beginning, to be played again as it was. */
  rewind(): void {
    this.pause();
    this.#to(0);
    this.#kept();
  }

  clear(): void {
    this.pause();
    this.rehearsal = { ...EMPTY, settings: this.rehearsal.settings };
    this.from = [];
    this.#kept();
  }

  #advance(ms: number): void {
    const before = this.shown.changes.length;
    this.#to(this.now + ms);
    if (this.shown.changes.length > before) this.#kept();
    if (this.now >= REHEARSAL_BOUNDS.milliseconds) this.pause();
  }

  #to(until: number): void {
    this.rehearsal = {
      ...this.rehearsal,
      until: Math.min(REHEARSAL_BOUNDS.milliseconds, Math.round(until)),
    };
  }

  #put(next: Rehearsal | null, said: string): void {
    this.says =
      next === null ? `A rehearsal has ${REHEARSAL_BOUNDS.steps} steps at most: begin another.` : '';
    if (next === null) return;
    this.rehearsal = next;
    announcer.answer(said);
    this.#kept();
  }

  #kept(): void {
    this.#keep(rehearsalLink(this.rehearsal));
  }
}
