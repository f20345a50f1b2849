import type { Instant } from '../base/instant.ts';
import type { Completeness } from '../review/completeness.ts';
import type { PowerEvent } from '../review/group.ts';
import { REVIEW_FILTERS, type ReviewAnswer, type ReviewFilter, type ReviewRow } from './review-answer.ts';
import { counted, countText, dayText, powerEventTitle, secondText } from './review-words.ts';

/** What is said over all sites of a power event; its counts are filters of the table below. */
const SITES: Record<ReviewFilter, (count: number) => string> = {
  'not-back': (n) => `${countText(n)} ${n === 1 ? 'has' : 'have'} a unit that hasn’t come back`,
  'above-limit': (n) => `${countText(n)} had a room above its limit`,
  together: (n) => `${countText(n)} restarted units together`,
  'cannot-be-told': (n) => `at ${countText(n)} it can’t be told`,
  separate: (n) => `${countText(n)} kept starts apart`,
  'rode-through': (n) => `${countText(n)} rode through`,
  'not-known': (n) => `of ${countText(n)} something isn’t known yet`,
};

export const filterCounts = (rows: readonly ReviewRow[]): ReviewAnswer['counts'] =>
  REVIEW_FILTERS.flatMap((filter) => {
    const sites = rows.filter(({ filters }) => filters.includes(filter)).length;
    return sites === 0 ? [] : [{ filter, sites, says: SITES[filter](sites) }];
  });

/** `Outage, Tue 24 Nov 2026, 14:10:00, at 2 sites.` The zone: the first site's. */
export const fleetHeadline = (event: PowerEvent, sites: number, zone: string): string =>
  `${powerEventTitle(event)} at ${counted(sites, 'site')}, ${dayText(event.start.latest, zone)}, ${secondText(event.start.latest, zone)}${event.end === null ? '; it isn’t over' : ''}.`;

/** `Known for 53 of 60 sites through 21:00; 7 gateways haven’t delivered.` */
export function completenessText(
  { sites, known, through, missing }: Completeness,
  clock: (at: Instant) => string,
): string {
  const late = missing.length;
  const rest =
    late === 0
      ? 'every gateway has delivered'
      : `${late} ${late === 1 ? 'gateway hasn’t' : 'gateways haven’t'} delivered`;
  return `Known for ${known} of ${sites} ${sites === 1 ? 'site' : 'sites'} through ${clock(through)}; ${rest}.`;
}
