import { setImmediate as breathe } from 'node:timers/promises';
import {
  LINES_BOUND,
  readAsked,
  readDone,
  readLines,
  readReplayEvents,
  type AskedPerson,
  type KeptLine,
} from '../../db/read-performance.ts';
import { readTuning } from '../../db/alarm-commands.ts';
import type { Queries } from '../../db/pool.ts';
import { announcedIn, type Announced } from '../../shared/alarms/performance/announced.ts';
import { measuresOf } from '../../shared/alarms/performance/measures.ts';
import type { Stretch } from '../../shared/alarms/performance/rates.ts';
import { contributors, WORST_SHOWN } from '../../shared/alarms/performance/repeats.ts';
import { ALARMING_KINDS } from '../../shared/alarms/performance/replay.ts';
import { sourcesOf } from '../../shared/alarms/performance/sources.ts';
import { suggest, type Suggested } from '../../shared/alarms/performance/suggest.ts';
import { askedOf } from '../../shared/alarms/performance/told.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { subjectName } from '../../shared/wire/alarm-wire.ts';
import type {
  AlarmName,
  PerformanceAnswer,
  SuggestionsAnswer,
} from '../../shared/wire/performance-answer.ts';
import { wireMeasure, wireSuggestion } from '../../shared/wire/performance-wire.ts';
import { SITES_KEPT } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';

/** How alarms perform, read and measured when somebody asks: of one site or of all in scope, and of each person who was asked. */
const SITES_SHOWN = 100;
const PEOPLE_SHOWN = 200;

interface Read {
  readonly lines: readonly KeptLine[];
  readonly asked: readonly AskedPerson[];
  readonly sites: readonly Site[];
}

export function readPerformance(
  service: Service,
  stretch: Stretch,
  { site, scope }: { readonly site: string | null; readonly scope: readonly string[] | null },
): Promise<PerformanceAnswer> {
  return inSnapshot(service.database, async (queries) => {
    const sites = site === null ? scope : [site];
    const configured = await sitesNow(service, queries, sites);
    const read = {
      lines: await readLines(queries, { ...stretch, sites }),
      asked: await readAsked(queries, { ...stretch, sites }),
      sites: configured,
    };
    return answerOf(read, stretch, { site, now: service.now() });
  });
}

async function sitesNow(service: Service, queries: Queries, only: readonly string[] | null): Promise<Site[]> {
  const setups = await service.setups.readMany(queries, '', SITES_KEPT, only);
  return setups.flatMap(({ history }) => siteAt(history, service.now()) ?? []);
}

function answerOf(
  { lines, asked, sites }: Read,
  stretch: Stretch,
  { site, now }: { readonly site: string | null; readonly now: number },
): PerformanceAnswer {
  const announced = announcedIn(lines);
  const inside = announced.filter(({ at }) => at >= stretch.from && at < stretch.to);
  const sources = sites.reduce((sum, one) => sum + sourcesOf(one), 0);
  const measure = (some: readonly Announced[], of: readonly KeptLine[]) =>
    measuresOf({ announced: some, lines: of, stretch, sources }).map(wireMeasure);
  const answer = {
    measures: measure(announced, lines),
    contributors: contributors(inside)
      .slice(0, WORST_SHOWN)
      .map(({ alarm, count, newest }) => ({ alarm, count, newest: formatInstant(newest) })),
    people: peopleOf(announced, asked).map(({ own, ...person }) => ({
      ...person,
      measures: measure(own, []),
    })),
    sites: site === null ? sitesBy(inside, lines, sites) : [],
  };
  return {
    from: formatInstant(stretch.from),
    to: formatInstant(stretch.to),
    site,
    siteName: site === null ? null : (sites[0]?.name ?? site),
    sources,
    whole: lines.length < LINES_BOUND && asked.length < LINES_BOUND,
    asked: inside.length,
    ...answer,
    alarms: namesOf(lines, sites, namedIn(answer)),
    serverTime: formatInstant(now),
  };
}

/** Each person who was asked, with what they were asked: who was asked most comes first. */
function peopleOf(announced: readonly Announced[], asked: readonly AskedPerson[]) {
  const people = new Map<string, AskedPerson[]>();
  for (const one of asked) people.set(one.person, [...(people.get(one.person) ?? []), one]);
  return [...people]
    .map(([id, messages]) => {
      const { name } = messages[0]!;
      const own = askedOf(announced, messages, name);
      return { id, name, asked: own.length, messages: messages.length, own };
    })
    .toSorted((a, b) => b.asked - a.asked || (a.name < b.name ? -1 : 1))
    .slice(0, PEOPLE_SHOWN);
}

function sitesBy(inside: readonly Announced[], lines: readonly KeptLine[], sites: readonly Site[]) {
  const siteOf = new Map(lines.map(({ alarm, site }) => [alarm, site]));
  const counts = new Map<string, number>();
  for (const { alarm } of inside) {
    const site = siteOf.get(alarm)!;
    counts.set(site, (counts.get(site) ?? 0) + 1);
  }
  return [...counts]
    .map(([id, count]) => ({ id, name: sites.find((one) => one.id === id)?.name ?? id, asked: count }))
    .toSorted((a, b) => b.asked - a.asked || (a.id < b.id ? -1 : 1))
    .slice(0, SITES_SHOWN);
}

type Parts = Pick<PerformanceAnswer, 'measures' | 'contributors' | 'people'>;

function namedIn({ measures, contributors: worst, people }: Parts): Set<string> {
  const all = [...measures, ...people.flatMap((one) => one.measures)];
  const leant = all.flatMap(({ leans }) => leans.flatMap(({ alarm }) => (alarm === null ? [] : [alarm])));
  return new Set([...leant, ...worst.map(({ alarm }) => alarm)]);
}

function namesOf(
  lines: readonly KeptLine[],
  sites: readonly Site[],
  named: ReadonlySet<string>,
): Record<string, AlarmName> {
  const found: Record<string, AlarmName> = {};
  for (const { alarm, rule, site, subject } of lines) {
    if (!named.has(alarm) || alarm in found) continue;
    const configured = sites.find(({ id }) => id === site) ?? null;
    found[alarm] = {
      rule,
      name: subjectName(subject, configured),
      site,
      siteName: configured?.name ?? site,
      timeZone: configured?.timeZone ?? 'UTC',
    };
  }
  return found;
}

const EVENTS_REPLAYED = 4_000;
const SLICE_MS = 15;

/** What other delays would have spared a site; null: there is no such site. Runs in slices, the server breathes between. */
export async function readSuggestions(
  service: Service,
  siteId: string,
  stretch: Stretch,
): Promise<SuggestionsAnswer | null> {
  const read = await inSnapshot(service.database, async (queries) => {
    const [site] = await sitesNow(service, queries, [siteId]);
    if (!site) return null;
    const bounds = { kinds: [...ALARMING_KINDS], limit: EVENTS_REPLAYED };
    const events = await readReplayEvents(queries, siteId, stretch, bounds);
    // where there are more, the replay begins with the oldest that was read
    const from = events.length < EVENTS_REPLAYED ? stretch.from : events[0]!.start.latest;
    const replayed = { from: Math.max(from, stretch.from), to: stretch.to };
    return {
      lived: {
        site,
        tuning: await readTuning(queries, siteId),
        stretch: replayed,
        events,
        commands: await readDone(queries, siteId, replayed),
      },
      lines: await readLines(queries, { ...replayed, sites: [siteId] }),
    };
  });
  if (read === null) return null;
  const { lived, lines } = read;
  const found = await inSlices(suggest(lived));
  return suggestionsOf(found, lived, lines);
}

async function inSlices<R>(run: Generator<void, R>): Promise<R> {
  let began = performance.now();
  for (;;) {
    const next = run.next();
    if (next.done) return next.value;
    if (performance.now() - began < SLICE_MS) continue;
    await breathe();
    began = performance.now();
  }
}

function suggestionsOf(
  { suggestions, replayed, without }: Suggested,
  {
    site,
    stretch,
    events,
  }: { readonly site: Site; readonly stretch: Stretch; readonly events: readonly unknown[] },
  lines: readonly KeptLine[],
): SuggestionsAnswer {
  const subjects = new Map(lines.map(({ key, subject }) => [key, subject]));
  const name = (key: string): string => {
    const subject = subjects.get(key);
    return subject ? subjectName(subject, site) : key.replace(/^[^:]*:[^/]*\//, '');
  };
  const raised = new Map(
    contributors(announcedIn(lines).filter(({ at }) => at >= stretch.from)).map(({ key, count }) => [
      key,
      count,
    ]),
  );
  const keys = [...new Set([...raised.keys(), ...replayed.keys()])];
  return {
    site: site.id,
    from: formatInstant(stretch.from),
    to: formatInstant(stretch.to),
    events: events.length,
    suggestions: suggestions.map((one) => wireSuggestion(one, name(one.key))),
    replayed: keys
      .map((key) => ({
        name: name(key),
        rule: ruleOf(key),
        raised: raised.get(key) ?? 0,
        replayed: replayed.get(key) ?? 0,
      }))
      .toSorted((a, b) => b.raised - a.raised || b.replayed - a.replayed)
      .slice(0, SOURCES_SHOWN),
    without: without.map(name),
  };
}

const SOURCES_SHOWN = 20;
const ruleOf = (key: string): SuggestionsAnswer['replayed'][number]['rule'] =>
  key.split(':')[0] as SuggestionsAnswer['replayed'][number]['rule'];
