import { formatInstant } from '../../../shared/base/instant.ts';
import type { EventAnswer, EventList } from '../../../shared/wire/event-answer.ts';
import type { EventFrame, SamplesFrame } from '../../../shared/wire/frames.ts';
import type { SeriesAnswer } from '../../../shared/wire/series.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import type { Frame } from '../net/live.ts';
import { readEvent } from '../view/read-answer.ts';
import { byPoint, lanesWithSamples, readSeries, type SeriesLane } from '../view/series-view.ts';
import { eventsWith } from '../view/events-view.ts';
import type { EventView } from '../view/site-view.ts';
import { lengthOf, type TimeWindow } from './window.ts';

/** What a chart shows of the record: series at drawn size and the events of the stretch, kept up by frames. */
export interface ChartSource {
  readonly site: string;
  readonly devices: readonly { readonly device: string; readonly signals: readonly string[] }[];
  /** narrows the events: `{ unit }`, or nothing for the whole site */
  readonly events: Readonly<Record<string, string>>;
  /** does a new event belong here */
  readonly holds: (event: EventAnswer) => boolean;
}

const SETTLE_MS = 120;
const EVENT_PAGE = 500;
const EVENT_PAGES = 4;

export class ChartRecord {
  lanes = $state.raw<ReadonlyMap<string, SeriesLane>>(byPoint([]));
  events = $state.raw<readonly EventView[]>([]);
  /** there were more events than are kept: the oldest are shown */
  cut = $state(false);
  refused = $state.raw<Refused | null>(null);
  #source: ChartSource;
  #loaded: (TimeWindow & { readonly pixel: number }) | null = null;
  #wanted: { readonly window: TimeWindow; readonly width: number } | null = null;
  #asking: AbortController | null = null;
  #timer: ReturnType<typeof setTimeout> | null = null;

  constructor(source: ChartSource) {
    this.#source = source;
  }

  /** Shows a stretch: what is loaded already is drawn at once, the rest is asked for when moving has settled. */
  show(window: TimeWindow, width: number): void {
    this.#wanted = { window, width };
    if (this.#covers(window, width)) return;
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.#ask(), this.#loaded === null ? 0 : SETTLE_MS);
  }

  /** After a gap in the frames, or a new server process. */
  refresh(): void {
    if (this.#wanted) void this.#ask();
  }

  stop(): void {
    this.#asking?.abort();
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  frame(frame: Frame): void {
    if (frame.kind === 'samples') this.#samples(frame.points);
    if (frame.kind === 'event') this.#events(frame);
  }

  #covers(window: TimeWindow, width: number): boolean {
    const held = this.#loaded;
    if (held === null || held.from > window.from || held.to < window.to) return false;
    const pixel = lengthOf(window) / width;
    return pixel > held.pixel / 1.5 && pixel < held.pixel * 2.5;
  }

  async #ask(): Promise<void> {
    if (this.#wanted === null) return;
    this.#asking?.abort();
    const mine = (this.#asking = new AbortController());
    const { window, width } = this.#wanted;
    const room = lengthOf(window) / 2;
    const span = { from: Math.round(window.from - room), to: Math.round(window.to + room) };
    try {
      const [lanes, events] = await Promise.all([
        this.#fetchLanes(span, width * 2, mine.signal),
        this.#fetchEvents(span, mine.signal),
      ]);
      if (mine.signal.aborted) return;
      this.#loaded = { ...span, pixel: lengthOf(window) / width };
      this.lanes = byPoint(lanes);
      this.events = events.items;
      this.cut = events.cut;
      this.refused = null;
    } catch (error) {
      if (mine.signal.aborted) return;
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  async #fetchLanes(span: TimeWindow, width: number, signal: AbortSignal): Promise<SeriesLane[]> {
    const { site, devices } = this.#source;
    const answers = devices.map(({ device, signals }) => {
      const words = {
        site,
        device,
        signals: signals.join(','),
        from: formatInstant(span.from),
        to: formatInstant(span.to),
      };
      return fetchAnswer<SeriesAnswer>(
        '/series',
        { ...words, width: Math.min(4000, Math.max(100, Math.round(width))) },
        signal,
      );
    });
    return (await Promise.all(answers)).flatMap(readSeries);
  }

  async #fetchEvents(span: TimeWindow, signal: AbortSignal): Promise<{ items: EventView[]; cut: boolean }> {
    const words = { site: this.#source.site, ...this.#source.events, limit: EVENT_PAGE };
    const times = { from: formatInstant(span.from), to: formatInstant(span.to) };
    const items: EventView[] = [];
    let cursor: string | null = null;
    for (let page = 0; page < EVENT_PAGES; page++) {
      const list: EventList = await fetchAnswer<EventList>('/events', { ...words, ...times, cursor }, signal);
      items.push(...list.items.map(readEvent));
      cursor = list.cursor;
      if (cursor === null) break;
    }
    return { items, cut: cursor !== null };
  }

  #samples(points: SamplesFrame['points']): void {
    const lanes = lanesWithSamples(this.lanes, points);
    const touched = lanes !== this.lanes;
    this.lanes = lanes;
    if (touched && points.some((point) => point.incomplete)) this.refresh();
  }

  #events({ events, withdrawn }: Pick<EventFrame, 'events' | 'withdrawn'>): void {
    const mine = events.filter((event) => this.#source.holds(event));
    this.events = eventsWith(
      this.events,
      mine,
      withdrawn.map(({ id }) => id),
    );
  }
}
