import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import { formatInstant } from '../../../shared/base/instant.ts';
import type { SeriesAnswer } from '../../../shared/wire/series.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { UnitView } from '../../../shared/wire/unit-view.ts';
import { fetchAnswer } from '../net/http.ts';
import { rehearsalFromEvent, stretchOf, type TakenFromEvent } from './from-event.ts';

const SIGNALS = ['cooling-call', 'compressor-output', 'high-pressure', 'low-pressure', 'control-voltage'];

/** Asks for an event, and for what was seen of its unit around it. Null: it is no unit's. */
export async function takeEvent(id: string, signal: AbortSignal): Promise<TakenFromEvent | null> {
  const event = await fetchAnswer<EventAnswer>(`/events/${encodeURIComponent(id)}`, {}, signal);
  if (event.unit === null) return null;
  const { site, unit } = event;
  const path = `/sites/${encodeURIComponent(site)}/units/${encodeURIComponent(unit)}`;
  const view = await fetchAnswer<UnitView>(path, {}, signal);
  const end = event.end === null ? null : readInstant(event.end.latest);
  const stretch = stretchOf(readInstant(event.start.earliest), end);
  const wired = new Set(
    view.points.filter(({ device }) => device === unit).map((point) => point.signal as string),
  );
  const words = {
    site,
    device: unit,
    signals: SIGNALS.filter((one) => wired.has(one)).join(','),
    from: formatInstant(stretch.from),
    to: formatInstant(stretch.to),
    width: 2000,
  };
  const series = await fetchAnswer<SeriesAnswer>('/series', words, signal);
  return rehearsalFromEvent(series, view.settings, stretch);
}
