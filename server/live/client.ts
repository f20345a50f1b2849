import type { AlarmFrame, EventFrame, SamplesFrame, StatusFrame } from '../../shared/wire/frames.ts';
import { isInScope, type Sites } from '../../shared/wire/may.ts';
import { Untold, type RoomChange } from './room-changes.ts';

/**
 * One client in one room. It is sent what it hasn't been told, no oftener than its pace, and only when everything sent
 * before has left this machine: a slow client gets the latest state, never a queue.
 */
export interface Line {
  /** everything sent has left: more may be sent */
  readonly ready: () => boolean;
  readonly status: (frame: StatusFrame) => void;
  readonly samples: (frame: SamplesFrame) => void;
  readonly event: (frame: EventFrame) => void;
  readonly alarm: (frame: AlarmFrame) => void;
  /** a change has joined others that wait to be sent, or the client has fallen behind what is kept for it */
  readonly count: (what: 'merged' | 'fell-behind') => void;
}

export interface Place {
  readonly epoch: string;
  /** the room's counter now */
  readonly revision: () => number;
  readonly serverTime: () => string;
  readonly site: string | null;
  /** what this client may be told of */
  readonly sites: Sites;
}

/** Frames come this far apart on the whole; after a quiet time a few may come at once, so that the first word is quick. */
const PACE_MS = 100;
const AT_ONCE = 3;
/** Looked at again after this, should the line's word that it has drained be lost. */
const AGAIN_MS = 500;

export class Member {
  readonly #line: Line;
  readonly #place: Place;
  readonly #untold = new Untold();
  #after: number;
  /** when the next would be due if all had come at their pace */
  #dueAt = -Infinity;
  #timer: NodeJS.Timeout | null = null;
  #waitsForLine = false;

  constructor(line: Line, place: Place) {
    this.#line = line;
    this.#place = place;
    this.#after = place.revision();
  }

  sees(site: string): boolean {
    return isInScope(this.#place.sites, site);
  }

  add(change: RoomChange): void {
    if (!this.#untold.isEmpty) this.#line.count('merged');
    this.#untold.add(change);
    this.hurry();
  }

  /** This client can't be brought up to date by frames: its next one won't follow on, and it fetches. */
  overrun(): void {
    this.#untold.overrun();
    this.hurry();
  }

  /** Something may be sent now, or soon. */
  hurry(): void {
    if (this.#timer !== null && !this.#waitsForLine) return;
    if (this.#untold.isEmpty) return;
    this.#arm(Math.max(0, this.#dueAt - (AT_ONCE - 1) * PACE_MS - performance.now()), false);
  }

  #arm(milliseconds: number, waitsForLine: boolean): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#waitsForLine = waitsForLine;
    this.#timer = setTimeout(() => {
      this.#timer = null;
      if (this.#line.ready()) this.#send();
      else this.#arm(AGAIN_MS, true);
    }, milliseconds);
  }

  leave(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #send(): void {
    const { change, overrun } = this.#untold.take();
    this.#dueAt = Math.max(this.#dueAt, performance.now()) + PACE_MS;
    const revision = this.#place.revision();
    if (overrun) {
      this.#after = -1; // no client holds this revision
      this.#line.count('fell-behind');
    }
    const place = () => {
      const { epoch } = this.#place;
      const after = Math.max(0, this.#after);
      const missed = this.#after < 0;
      this.#after = revision;
      return { epoch, revision, after: missed ? revision + 1 : after, serverTime: this.#place.serverTime() };
    };
    const { events, withdrawn, samples, parts, alarms } = change;
    if (parts.length > 0 || overrun) this.#line.status({ ...place(), sites: [...parts] });
    if (events.length + withdrawn.length > 0)
      this.#line.event({ ...place(), events: [...events], withdrawn: [...withdrawn] });
    if (alarms.length > 0) this.#line.alarm({ ...place(), alarms: [...alarms] });
    if (samples.length > 0 && this.#place.site !== null)
      this.#line.samples({ ...place(), site: this.#place.site, points: [...samples] });
  }
}
