import type { Instant } from '../../../shared/base/instant.ts';
import type { Span } from '../../../shared/base/span.ts';
import { changedQuery, siteHref } from '../address/place.ts';
import { stillWords } from '../chart/showing.ts';
import { around } from '../chart/window.ts';
import type { Zone } from '../page/zone.ts';
import type { EventView, SiteView } from '../view/site-view.ts';

/** What a device of the site is called; its id where it has no name. */
export function deviceName(device: string, site: SiteView): string {
  const named = [...site.units, ...site.rooms, ...site.panels].find(({ id }) => id === device);
  return named?.name ?? device;
}

/** Whose event it is, by name: the narrowest of unit, room, panel, gateway, point. */
export function subjectOf(event: EventView, site: SiteView): string | null {
  const device = event.unit ?? event.space ?? event.panel ?? event.gateway ?? event.point ?? null;
  return device === null ? null : deviceName(device, site);
}

/** An uncertain time, with its day: `Tue 3 Mar, 13:55:10–13:55:15 CST`. */
export function spanText(span: Span, zone: Zone): string {
  const [from, to] = [zone.seconds(span.earliest), zone.seconds(span.latest)];
  const times = from === to || span.latest - span.earliest <= 1e6 ? to : `${from}–${to}`;
  return `${zone.day(span.latest)}, ${times} ${zone.label(span.latest)}`;
}

/** The site's chart around an event. */
export function onSiteChart(event: EventView, now: Instant): string {
  const { from, to } = stillWords(around(event.start.earliest, event.end?.latest ?? now));
  return `${siteHref(event.site)}${changedQuery('', { from, to, why: event.id })}`;
}
