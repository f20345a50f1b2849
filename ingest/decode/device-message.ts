import type { KnownSite } from '../catalogue.ts';
import type { Place } from '../topic.ts';
import type { Intake } from './intake.ts';
import { isObject } from './json.ts';

/** `{"t": …, "signals": {"cooling-call": 1, …}}`, or an array of those. One bad signal doesn't cost the others. */
export function takeDeviceMessage(intake: Intake, site: KnownSite, { device }: Place, body: unknown): void {
  if (!Array.isArray(body)) return takeEntry(intake, site, device, body);
  for (const entry of body as readonly unknown[]) takeEntry(intake, site, device, entry);
}

function takeEntry(intake: Intake, site: KnownSite, device: string, entry: unknown): void {
  const signals = isObject(entry) ? entry['signals'] : undefined;
  if (!isObject(entry) || !isObject(signals))
    return intake.refuse('form-not-known', device, entry, () => entry);
  for (const [signal, given] of Object.entries(signals)) {
    const fragment = () => ({ ...('t' in entry ? { t: entry['t'] } : {}), signals: { [signal]: given } });
    const point = site.points.get(`${device}/${signal}`);
    const claim = isObject(given)
      ? { t: entry['t'], v: given['v'], q: given['q'] }
      : { t: entry['t'], v: given, q: entry['q'] };
    if (point) intake.take(point, claim, fragment);
    else intake.refuse('point-not-known', `${device}/${signal.slice(0, 63)}`, undefined, fragment);
  }
}
