import { parseInstant, SECOND, seconds, type Instant } from '../../../shared/base/instant.ts';
import type { SignalName } from '../../../shared/telemetry/signals.ts';
import { signalRow } from '../../../shared/telemetry/signals.ts';
import type { WaveformAnswer, WaveformList } from '../../../shared/wire/waveform-answer.ts';
import { formatInstant } from '../../../shared/base/instant.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import type { AnalogLane } from '../view/series-view.ts';
import type { EventView } from '../view/site-view.ts';

/** How much is shown before and after an event: some cycles. */
const AROUND = seconds(0.5);
/** Of an event that lasts, its beginning is what a waveform shows. */
const LONGEST = seconds(10);

export interface Drawn {
  readonly signal: SignalName;
  readonly lane: AnalogLane;
  readonly from: Instant;
  readonly to: Instant;
}

/** The waveforms of an event's panel around it, fetched when they are asked for. */
export class EventWaveforms {
  drawn = $state.raw<readonly Drawn[] | null>(null);
  refused = $state.raw<string | null>(null);

  async fetch(event: EventView, signals: readonly SignalName[]): Promise<void> {
    const from = event.start.earliest - AROUND;
    const end = event.end?.latest ?? event.start.latest;
    const to = Math.min(end, event.start.latest + LONGEST) + AROUND;
    try {
      const answers = await Promise.all(signals.map((signal) => this.#fetchSignal(event, signal, from, to)));
      this.drawn = answers.flat();
      this.refused = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error.message;
    }
  }

  async #fetchSignal(event: EventView, signal: SignalName, from: Instant, to: Instant): Promise<Drawn[]> {
    const words = {
      site: event.site,
      device: event.panel,
      signal,
      from: formatInstant(from),
      to: formatInstant(to),
    };
    const { items } = await fetchAnswer<WaveformList>('/waveforms', words);
    if (items.length === 0) return [];
    const lane = laneOf(signal, event.panel ?? '', items);
    return [{ signal, lane, from: Math.max(from, lane.t[0]!), to: Math.min(to, lane.t.at(-1)!) }];
  }
}

/** Pieces one behind the other, the line broken where a piece is missing. */
function laneOf(signal: SignalName, device: string, items: readonly WaveformAnswer[]): AnalogLane {
  const t: Instant[] = [];
  const w: number[] = [];
  for (const item of items) {
    const first = parseInstant(item.t0)!;
    for (const [i, value] of item.w.entries()) {
      const at = first + Math.round(i * item.dt * SECOND);
      if (at <= (t.at(-1) ?? -Infinity)) continue;
      t.push(at);
      w.push(value);
    }
  }
  const { name, measure } = signalRow(signal);
  const breakAfter = Math.max(...items.map(({ dt }) => dt)) * 2 * SECOND;
  return {
    kind: 'analog',
    device,
    signal,
    name,
    measure,
    unknown: [],
    t,
    min: w,
    max: w,
    mean: w,
    last: w,
    breakAfter,
  };
}
