import type { Frame } from '../net/live.ts';
import { withEvents, withParts } from './read-answer.ts';
import type { SiteView } from './site-view.ts';

/** A frame laid over the sites held; a site that isn't held comes with the next fetch. */
export function framed(sites: readonly SiteView[], frame: Frame): readonly SiteView[] {
  if (frame.kind === 'status') {
    const parts = new Map(frame.sites.map((site) => [site.id, site]));
    return sites.map((site) => {
      const newer = parts.get(site.id);
      return newer ? withParts(site, newer) : site;
    });
  }
  if (frame.kind !== 'event') return sites;
  const withdrawn = frame.withdrawn.map(({ id }) => id);
  const touched = new Set([...frame.events, ...frame.withdrawn].map(({ site }) => site));
  return sites.map((site) => (touched.has(site.id) ? withEvents(site, frame.events, withdrawn) : site));
}
