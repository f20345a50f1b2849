/** The page's places and how an address says them. State is in the address, so that it can be sent to someone. */
export type Place =
  | { readonly page: 'board' }
  | { readonly page: 'site'; readonly site: string }
  | { readonly page: 'unit'; readonly site: string; readonly unit: string }
  | { readonly page: 'event'; readonly event: string }
  | { readonly page: 'replay' | 'alarm-settings' | 'proof' | 'wiring' | 'gateways'; readonly site: string }
  | { readonly page: 'panel-stagger' | 'recording' | 'starts'; readonly site: string; readonly panel: string }
  | { readonly page: 'edit'; readonly site: string; readonly at: readonly string[] }
  | { readonly page: 'alarms' | 'performance' | 'stagger' }
  | { readonly page: 'alarm'; readonly alarm: string }
  | { readonly page: 'on-call' }
  | { readonly page: 'power-events' }
  | { readonly page: 'review'; readonly event: string }
  | { readonly page: 'site-review'; readonly event: string; readonly site: string }
  | { readonly page: 'rejected' | 'telemetry' }
  | { readonly page: 'report'; readonly month: string | null }
  | { readonly page: 'account' | 'people' | 'audit' | 'setup' | 'welcome' | 'rehearsal' | 'start' | 'tables' }
  | { readonly page: 'nowhere'; readonly path: string };

export function placeOf(path: string): Place {
  const [first, second, third, fourth, ...rest] = path.split('/').filter(Boolean).map(decoded);
  if (first === 'sites' && second && third === 'panels' && fourth && rest.join('/') === 'stagger')
    return { page: 'panel-stagger', site: second, panel: fourth };
  if (first === 'sites' && second && third === 'edit')
    return { page: 'edit', site: second, at: fourth === undefined ? [] : [fourth, ...rest] };
  const ofPanel = first === 'sites' && third === 'panels' && rest.length === 1 ? rest[0] : null;
  if (second && fourth && (ofPanel === 'recording' || ofPanel === 'starts'))
    return { page: ofPanel, site: second, panel: fourth };
  if (rest.length > 0) return { page: 'nowhere', path };
  if (first === undefined) return { page: 'board' };
  if (isAlone(first) && second === undefined) return { page: first };
  if (first === 'stagger' && second === undefined) return { page: 'stagger' };
  if (first === 'on-call' && second === undefined) return { page: 'on-call' };
  if ((first === 'rejected' || first === 'telemetry') && second === undefined) return { page: first };
  if (first === 'reports' && third === undefined) return { page: 'report', month: second ?? null };
  if (first === 'alarms' && second === 'performance' && third === undefined) return { page: 'performance' };
  if (first === 'alarms' && third === undefined)
    return second === undefined ? { page: 'alarms' } : { page: 'alarm', alarm: second };
  if (first === 'events' && second !== undefined && third === undefined)
    return { page: 'event', event: second };
  if (first === 'power-events' && fourth === undefined) return powerEventPlace(second, third);
  if (first !== 'sites' || second === undefined) return { page: 'nowhere', path };
  if (third === undefined) return { page: 'site', site: second };
  if (isOfSite(third) && fourth === undefined) return { page: third, site: second };
  return third === 'units' && fourth !== undefined
    ? { page: 'unit', site: second, unit: fourth }
    : { page: 'nowhere', path };
}

function powerEventPlace(event: string | undefined, site: string | undefined): Place {
  if (event === undefined) return { page: 'power-events' };
  return site === undefined ? { page: 'review', event } : { page: 'site-review', event, site };
}

/** Places of a site that are a word behind it. */
const OF_SITE = ['replay', 'alarm-settings', 'proof', 'wiring', 'gateways'] as const;
const isOfSite = (word: string): word is (typeof OF_SITE)[number] =>
  (OF_SITE as readonly string[]).includes(word);

/** Places that are a word by themselves: those of accounts, and the rehearsal. */
const ALONE = ['account', 'people', 'audit', 'setup', 'welcome', 'rehearsal', 'start', 'tables'] as const;
const isAlone = (word: string): word is (typeof ALONE)[number] => (ALONE as readonly string[]).includes(word);

/** A panel’s delays, planned so that its starts stay apart. */
export const staggerHref = (site: string, panel: string): string =>
  `${siteHref(site)}/panels/${encodeURIComponent(panel)}/stagger`;
export const siteHref = (site: string): string => `/sites/${encodeURIComponent(site)}`;
export const unitHref = (site: string, unit: string): string =>
  `${siteHref(site)}/units/${encodeURIComponent(unit)}`;
/** A recorder’s file taken in to a panel. */
export const recordingHref = (site: string, panel: string): string =>
  `${siteHref(site)}/panels/${encodeURIComponent(panel)}/recording`;
/** What starts do to a panel’s voltage. */
export const startsHref = (site: string, panel: string): string =>
  `${siteHref(site)}/panels/${encodeURIComponent(panel)}/starts`;
/** Other settings tried on what was seen of some units, in a stretch. */
export const replayHref = (
  site: string,
  units: readonly string[],
  stretch: { readonly from: string; readonly to: string },
): string => `${siteHref(site)}/replay${changedQuery('', { units: units.join(','), ...stretch })}`;
/** The proof of a site’s wiring; one of its records. */
export const proofHref = (site: string, record: string | null = null): string =>
  `${siteHref(site)}/proof${changedQuery('', { record })}`;
/** What a site’s alarm rules are set to. */
export const alarmSettingsHref = (site: string): string => `${siteHref(site)}/alarm-settings`;
/** The reference control, rehearsed: what is in the link; of an event: what was seen around it. */
export const rehearsalHref = (of: { readonly link: string } | { readonly event: string }): string =>
  `/rehearsal${changedQuery('', 'link' in of ? { r: of.link } : { event: of.event })}`;
/** How a site’s gateways connect. */
export const gatewaysHref = (site: string): string => `${siteHref(site)}/gateways`;
/** A month's report, of one site or of all; null: the last whole month. */
export const reportHref = (month: string | null, site: string | null): string =>
  `/reports${month === null ? '' : `/${month}`}${changedQuery('', { site })}`;
/** How alarms perform, at one site or at all. */
export const performanceHref = (site: string | null): string =>
  `/alarms/performance${changedQuery('', { site })}`;
/** Power events, of one site or of all; one of them over all sites; at one site. */
export const powerEventsHref = (site: string | null): string => `/power-events${changedQuery('', { site })}`;
export const powerEventHref = (event: string): string => `/power-events/${encodeURIComponent(event)}`;
export const powerEventSiteHref = (event: string, site: string): string =>
  `${powerEventHref(event)}/${encodeURIComponent(site)}`;
/** What is talking at a site and isn’t mapped. */
export const wiringHref = (site: string): string => `${siteHref(site)}/wiring`;
/** How telemetry comes in, of one site or of all. */
export const telemetryHref = (site: string | null): string => `/telemetry${changedQuery('', { site })}`;
export const alarmHref = (alarm: string): string => `/alarms/${encodeURIComponent(alarm)}`;
export const eventHref = (event: string): string => `/events/${encodeURIComponent(event)}`;

/** The query with some of its words changed; null takes one out. Empty: no question mark. */
export function changedQuery(query: string, changes: Readonly<Record<string, string | null>>): string {
  const words = new URLSearchParams(query);
  for (const [name, value] of Object.entries(changes))
    if (value === null || value === '') words.delete(name);
    else words.set(name, value);
  const text = words.toString();
  return text === '' ? '' : `?${text}`;
}

const decoded = (part: string): string => {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
};
