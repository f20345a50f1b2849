import type { Queries } from '../../db/pool.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { PowerEvent } from '../../shared/review/group.ts';
import { worstFirst } from '../../shared/review/rank.ts';
import { clockText } from '../../shared/people/wall-time.ts';
import type { PowerEventItem, ReviewAnswer, SiteReviewAnswer } from '../../shared/wire/review-answer.ts';
import { completenessText, filterCounts, fleetHeadline } from '../../shared/wire/review-fleet-sentences.ts';
import { reviewSentences, siteHeadline } from '../../shared/wire/review-sentences.ts';
import { namesOf, powerEventTitle } from '../../shared/wire/review-words.ts';
import { awayText, lastedOr, restartText, VERDICT_WORDS } from '../../shared/wire/review-tables.ts';
import {
  wireCompleteness,
  wireHead,
  wireRestarts,
  wireRide,
  wireRoom,
  wireRow,
  wireTodo,
} from '../../shared/wire/review-wire.ts';
import { wireSpan } from '../../shared/wire/standing-wire.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import type { Setup } from '../follow/setup.ts';
import { readLearned } from './learned.ts';
import { readCompleteness, reviewSites, reviewUntil, type Reviewed } from './read-sites.ts';

/** Answers about power events, made of what was read. `setups`: those of the sites that the reader may see. */
export function itemOf(event: PowerEvent, setups: ReadonlyMap<string, Setup>): PowerEventItem {
  return {
    ...wireHead(event),
    sites: event.sites.flatMap(({ site, panels, start }) => {
      const known = setups.get(site);
      const at = known && siteAt(known.history, start.latest);
      return at ? [{ id: site, name: at.name, timeZone: at.timeZone, panels: panels.length }] : [];
    }),
  };
}

export async function fleetAnswer(
  queries: Queries,
  event: PowerEvent,
  setups: readonly Setup[],
  now: Instant,
): Promise<ReviewAnswer> {
  const reviewed = await reviewSites(queries, event, reachedOf(event, setups), now);
  const completeness = await readCompleteness(queries, setups, event, now);
  const lacking = (site: string) =>
    completeness.missing.filter((one) => one.site === site).map(({ gateway }) => gateway);
  const rows = [...reviewed]
    .sort((a, b) => worstFirst(a.review, b.review))
    .map(({ review, site }) => wireRow(review, site, lacking(site.id)));
  const zone = reviewed[0]?.site.timeZone ?? 'UTC';
  const names = new Map(setups.map(({ id, history }) => [id, siteAt(history, now)?.name ?? id]));
  return {
    ...wireHead(event),
    headline: fleetHeadline(event, rows.length, zone),
    completeness: wireCompleteness(
      completeness,
      (site) => names.get(site) ?? site,
      completenessText(completeness, (at) => clockText(at, zone)),
    ),
    counts: filterCounts(rows),
    rows,
    until: formatInstant(reviewUntil(event, now)),
    serverTime: formatInstant(now),
  };
}

const reachedOf = (event: PowerEvent, setups: readonly Setup[]): Setup[] =>
  setups.filter(({ id }) => event.sites.some(({ site }) => site === id));

/** One site of a power event. `earlier`: the power event before it that reached the site. */
export async function siteAnswer(
  queries: Queries,
  {
    event,
    earlier,
    setup,
  }: { readonly event: PowerEvent; readonly earlier: PowerEvent | null; readonly setup: Setup },
  now: Instant,
): Promise<SiteReviewAnswer | null> {
  const [reviewed] = await reviewSites(queries, event, [setup], now);
  if (!reviewed) return null;
  const { site, review } = reviewed;
  const names = namesOf(site);
  const completeness = await readCompleteness(queries, [setup], event, now);
  const missing = completeness.missing.map(({ gateway }) => gateway);
  const learned = await readLearned(queries, reviewed, event.end ?? now);
  const nothing = { margin: null, susceptibility: null };
  return {
    ...wireHead(event),
    site: site.id,
    name: site.name,
    timeZone: site.timeZone,
    headline: siteHeadline(review, site.name, names),
    sentences: reviewSentences(review, names, missing).map(({ text, evidence }) => ({
      text,
      evidence: [...evidence],
    })),
    restarts: wireRestarts(review, names),
    units: review.units.map((ride) => wireRide(ride, names, learned.get(ride.unit) ?? nothing)),
    rooms: review.rooms.map((room) => wireRoom(room, names)),
    todo: review.todo.map((todo) => wireTodo(todo, names)),
    missing,
    earlier: earlier && (await beside(queries, earlier, reviewed, now)),
    window: windowOf(event, reviewed, now),
    until: formatInstant(review.until),
    serverTime: formatInstant(now),
  };
}

/** From a little before it began to a little after the last restart, however long it is reviewed. */
function windowOf(event: PowerEvent, { review }: Reviewed, now: Instant): SiteReviewAnswer['window'] {
  const from = review.share.start.earliest - seconds(60);
  const settled = review.share.settled ?? now;
  const to = Math.min(now, settled + Math.max(seconds(120), Math.round((settled - from) / 6)));
  return { from: formatInstant(from), to: formatInstant(Math.max(to, from + seconds(300))) };
}

async function beside(
  queries: Queries,
  earlier: PowerEvent,
  { review, setup, site }: Reviewed,
  now: Instant,
): Promise<SiteReviewAnswer['earlier']> {
  const [before] = await reviewSites(queries, earlier, [setup], now);
  if (!before) return null;
  const [then, nowRow] = [wireRow(before.review, before.site, []), wireRow(review, site, [])];
  const compared: readonly (readonly [string, (row: typeof then) => string])[] = [
    ['without power', awayText],
    ['restarted after', ({ restartSeconds }) => restartText(restartSeconds)],
    ['starts', ({ verdict }) => (verdict === null ? 'none to compare' : VERDICT_WORDS[verdict])],
    ['longest without cooling', ({ withoutCoolingSeconds }) => lastedOr(withoutCoolingSeconds)],
    ['units that dropped', () => ''],
  ];
  const droppedIn = ({ units }: typeof review) =>
    String(units.filter(({ outcome }) => outcome === 'dropped').length);
  return {
    id: earlier.id,
    title: powerEventTitle(earlier),
    start: wireSpan(before.review.share.start)!,
    rows: compared.map(([what, text]) =>
      what === 'units that dropped'
        ? { what, then: droppedIn(before.review), now: droppedIn(review) }
        : { what, then: text(then), now: text(nowRow) },
    ),
  };
}
