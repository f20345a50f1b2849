import type { Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { PanelSupply } from '../review/disturbances.ts';
import type { RideThrough } from '../review/ride-through.ts';
import { mostWithout } from '../review/rooms.ts';
import { isAboveLimit, type SiteReview } from '../review/site-review.ts';
import { covered } from '../review/stretches.ts';
import { CAUSE_WORDS } from './cause-words.ts';
import { restartSentences, stayedOffSentence } from './review-restart-sentences.ts';
import {
  capital,
  counted,
  countText,
  dayText,
  lastedText,
  listed,
  percentText,
  secondText,
  timesText,
  type Named,
} from './review-words.ts';

/** What is said of a site in a review: each sentence with the events that it leans on. */
export interface ReviewSentence {
  readonly text: string;
  /** ids of events; empty where it says what wasn't there */
  readonly evidence: readonly string[];
}

/** The summary in plain words, in the order in which it happened. `missing`: gateways that haven't delivered. */
export function reviewSentences(
  review: SiteReview,
  names: Named,
  missing: readonly string[],
): ReviewSentence[] {
  return [
    ...supplySentences(review, names),
    ...rideSentences(review, names),
    ...generatorSentences(review, names),
    ...restartSentences(review, names),
    ...latchedSentences(review, names),
    stayedOffSentence(review, names),
    ...roomSentences(review, names),
    ...missingSentences(missing),
  ].map(({ text, evidence }) => ({ text, evidence: [...new Set(evidence)] }));
}

function supplySentences(review: SiteReview, names: Named): ReviewSentence[] {
  const { share, panels, outages } = review;
  const dark = panels.filter(({ away }) => away.length > 0);
  const when = `${secondText(share.start.latest, names.zone)} on ${dayText(share.start.latest, names.zone)}`;
  const outage = dark.length === 0 ? [] : [outageSentence(review, dark, names, { when, outages })];
  const dips = panels.filter(({ sags }) => sags.length > 0);
  return [...outage, ...dips.map((panel) => sagSentence(panel, review.until, names))];
}

function outageSentence(
  { until, away }: SiteReview,
  dark: readonly PanelSupply[],
  names: Named,
  { when, outages }: { readonly when: string; readonly outages: number },
): ReviewSentence {
  const where = listed(dark.map(({ panel }) => names.panel(panel)));
  const last = dark.flatMap((panel) => panel.away).reduce((a, b) => (endOf(b.to) > endOf(a.to) ? b : a));
  const again = outages > 1 ? `, ${timesText(outages)} in all` : '';
  const back = last.to
    ? `It came back for good at ${secondText(last.to.latest, names.zone)}, after ${lastedText(away)} without power in all.`
    : `It is still away, ${lastedText(covered(last ? [last] : [], until))} so far.`;
  return {
    text: `Power went from ${where} at ${when}${again}. ${back}`,
    evidence: dark.flatMap(({ evidence }) => evidence),
  };
}

const endOf = (to: { readonly latest: Instant } | null): Instant => to?.latest ?? Infinity;

function sagSentence({ panel, sags }: PanelSupply, until: Instant, names: Named): ReviewSentence {
  const measured = sags.flatMap(({ residual }) => (residual ? [residual[0]] : []));
  const deepest =
    measured.length > 0 ? ` to ${percentText(Math.min(...measured))} of its declared voltage` : '';
  const first = sags[0]!;
  const often = sags.length > 1 ? `${timesText(sags.length)}, the first ` : '';
  return {
    text: `${names.panel(panel)} sagged${deepest}, ${often}at ${secondText(first.from.latest, names.zone)}, for ${lastedText(covered(sags, until))}${deepest === '' ? '; how deep wasn’t measured' : ''}.`,
    evidence: sags.map(({ event }) => event),
  };
}

function rideSentences({ units }: SiteReview, names: Named): ReviewSentence[] {
  const those = (outcome: RideThrough['outcome']) => units.filter((one) => one.outcome === outcome);
  const [dropped, rode, unknown] = [those('dropped'), those('rode-through'), those('not-known')];
  const running = dropped.length + rode.length;
  const sentences: ReviewSentence[] = [];
  if (running > 0)
    sentences.push({ text: ranText(dropped, rode, names), evidence: evidenceOf([...dropped, ...rode]) });
  else if (unknown.length < units.length)
    sentences.push({
      text: 'No compressor was seen running when it began.',
      evidence: evidenceOf(those('held')),
    });
  if (unknown.length > 0)
    sentences.push({
      text: `What ${listed(unknown.map(({ unit }) => names.unit(unit)))} did isn’t known: ${unknown.length === 1 ? 'its runs weren’t' : 'their runs weren’t'} heard then.`,
      evidence: [],
    });
  return sentences;
}

const evidenceOf = (rides: readonly RideThrough[]): string[] => rides.flatMap(({ evidence }) => evidence);

function ranText(dropped: readonly RideThrough[], rode: readonly RideThrough[], names: Named): string {
  const running = dropped.length + rode.length;
  const ran = `${capital(counted(running, 'compressor'))} ${running === 1 ? 'was' : 'were'} running`;
  if (rode.length === 0)
    return `${ran}; ${running === 1 ? 'it' : 'all of them'} dropped (${causesOf(dropped)}).`;
  if (dropped.length === 0) return `${ran} and rode through.`;
  const which = (rides: readonly RideThrough[]) => listed(rides.map(({ unit }) => names.unit(unit)));
  return `${ran}: ${which(dropped)} dropped (${causesOf(dropped)}), ${which(rode)} rode through.`;
}

function causesOf(dropped: readonly RideThrough[]): string {
  const causes = [...new Set(dropped.flatMap(({ because }) => (because === null ? [] : [because])))];
  return causes
    .map((cause) =>
      cause === 'unknown' ? 'why can’t be told' : CAUSE_WORDS[cause as keyof typeof CAUSE_WORDS],
    )
    .join('; ');
}

function generatorSentences({ panels, restarts, units, until }: SiteReview, names: Named): ReviewSentence[] {
  const held = restarts.flatMap(({ units: all }) => all.filter(({ outcome }) => outcome === 'held-off'));
  const designed =
    held.length > 0
      ? ` ${listed([...new Set(held.map(({ unit }) => names.unit(unit)))])} ${held.length === 1 ? 'was' : 'were'} held off by design.`
      : '';
  return panels
    .filter(({ onGenerator }) => onGenerator.length > 0)
    .map(({ panel, onGenerator }) => {
      const [first, last] = [onGenerator[0]!, onGenerator.at(-1)!];
      const again = units.filter(({ drops }) => drops.length > 1).map(({ unit }) => names.unit(unit));
      const second =
        last.to && again.length > 0
          ? ` The return to the utility was a second short break: ${listed(again)} dropped and restarted a second time.`
          : last.to
            ? ' The return to the utility was a second short break.'
            : '';
      return {
        text: `The generator fed ${names.panel(panel)} from ${secondText(first.from.latest, names.zone)}${last.to ? ` to ${secondText(last.to.latest, names.zone)}` : ', and still does'} (${lastedText(covered(onGenerator, until))}).${designed}${second}`,
        evidence: restarts.filter((one) => one.panel === panel).map(({ event }) => event),
      };
    });
}

function latchedSentences({ latched }: SiteReview, names: Named): ReviewSentence[] {
  if (latched.length === 0) return [{ text: 'Nothing latched out.', evidence: [] }];
  return latched.map((event) => {
    const why = event.cause === null || event.cause === 'unknown' ? '' : ` on ${CAUSE_WORDS[event.cause]}`;
    const end = event.end
      ? `, until ${secondText(event.end.latest, names.zone)}`
      : ' and is latched still: it stays off until its call or its power is broken';
    return {
      text: `${names.unit(event.unit!)} latched out${why} at ${secondText(event.start.latest, names.zone)}${end}.`,
      evidence: [event.id],
    };
  });
}

function roomSentences({ rooms, units }: SiteReview, names: Named): ReviewSentence[] {
  const worst = rooms.find((room) => mostWithout(room) > 0);
  const above = rooms.filter(isAboveLimit);
  const sentences: ReviewSentence[] = [];
  if (worst)
    sentences.push({
      text: `${names.space(worst.space)} was longest without cooling: ${atMost(worst.withoutCooling!)}.${reached(worst, names)}`,
      evidence: units.flatMap(({ evidence, withoutCooling }) => (withoutCooling[1] > 0 ? evidence : [])),
    });
  else if (units.some(({ outcome }) => outcome !== 'not-known'))
    sentences.push({ text: 'No room is known to have gone without cooling because of it.', evidence: [] });
  const others = above.filter((room) => room !== worst);
  if (others.length > 0)
    sentences.push({
      text: `Above their limits as well: ${listed(others.map((room) => `${names.space(room.space)} (${room.highest!.value.toFixed(1)} °C)`))}.`,
      evidence: [],
    });
  return sentences;
}

const atMost = (bounds: Bounds): string =>
  bounds[0] < 1 ? `${lastedText([bounds[1], bounds[1]])} at most` : lastedText(bounds);

function reached({ highest, limit }: SiteReview['rooms'][number], names: Named): string {
  if (!highest) return ' Its temperature isn’t known.';
  const at = `It reached ${highest.value.toFixed(1)} °C at ${secondText(highest.t, names.zone).slice(0, 5)}`;
  if (limit === null) return ` ${at}; no limit is recorded.`;
  const by = Math.abs(highest.value - limit).toFixed(1);
  return ` ${at}, ${by} K ${highest.value > limit ? 'above' : 'below'} its limit of ${limit} °C.`;
}

function missingSentences(missing: readonly string[]): ReviewSentence[] {
  if (missing.length === 0) return [];
  const one = missing.length === 1;
  return [
    {
      text: `${capital(counted(missing.length, 'gateway'))} of this site ${one ? 'hasn’t' : 'haven’t'} delivered (${listed(missing)}): what ${one ? 'it holds' : 'they hold'} back may change this.`,
      evidence: [],
    },
  ];
}

/** From the power's return to the first and the last restart of all panels, seconds; null: none was seen. */
export function restartReach({ restarts }: SiteReview): Bounds | null {
  const seen = restarts.flatMap(({ units }) => units.flatMap(({ startedSeconds }) => startedSeconds ?? []));
  return seen.length === 0 ? null : [Math.min(...seen), Math.max(...seen)];
}

/** The first line of a site's page. */
export function siteHeadline(review: SiteReview, site: string, names: Named): string {
  const { away, outages, panels, units, verdict, restarts, latched, notBack } = review;
  const dropped = units.filter(({ outcome }) => outcome === 'dropped').length;
  const waiting = units.filter(({ waits }) => waits).length;
  const sagged = panels.some(({ sags }) => sags.length > 0);
  const what =
    outages > 0
      ? `${site} was without power for ${lastedText(away)}`
      : sagged
        ? `The voltage at ${site} sagged: ${countText(dropped)} of ${countText(units.length)} units dropped`
        : `${site} was on its generator`;
  const together = restarts
    .filter((one) => one.verdict === 'simultaneous')
    .map(({ panel, spacings }) => {
      const pairs = spacings.filter((pair) => pair.verdict === 'simultaneous');
      const who = [...new Set(pairs.flatMap(({ first, second }) => [first, second]))].map(names.unit);
      return `${listed(who)} restarted together on ${names.panel(panel)}`;
    });
  const still = [...latched.filter(({ end }) => end === null).map(({ unit }) => unit!), ...notBack].map(
    names.unit,
  );
  const rest = [
    ...(still.length > 0 ? [`${listed(still)} ${still.length === 1 ? 'is' : 'are'} still off`] : []),
    ...(waiting === 1 ? ['one unit waits for its delay'] : []),
    ...(waiting > 1 ? [`${countText(waiting)} units wait for their delays`] : []),
    ...(together.length > 0 ? together : verdict === 'separate' ? ['its starts were kept apart'] : []),
    ...(together.length === 0 && verdict === 'cannot-be-told'
      ? ['whether its starts were kept apart can’t be told']
      : []),
  ];
  return `${[what, ...rest].join('; ')}.`;
}
