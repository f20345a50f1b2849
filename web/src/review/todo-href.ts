import type { WireTodo } from '../../../shared/wire/review-answer.ts';
import { siteHref, staggerHref, unitHref } from '../address/place.ts';

/** Where something is done about it. */
export function todoHref(site: string, { kind, device }: WireTodo): string {
  if (kind === 'stagger') return staggerHref(site, device);
  return kind === 'latched' || kind === 'not-back' ? unitHref(site, device) : siteHref(site);
}
