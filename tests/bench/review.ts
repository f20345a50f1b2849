import { putEvent } from '../../db/follow-events.ts';
import { readDeviceIds } from '../../db/points.ts';
import { statement, type Database, type Queries } from '../../db/pool.ts';
import { putSite } from '../../db/sites.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import { eventId, type EventDraft, type EventKind, type Subject } from '../../shared/inference/event.ts';
import { draftAbout } from '../../shared/inference/subject-draft.ts';
import { askServer, serving } from './asked.ts';
import { heading, note, ratio } from './report.ts';
import { interleaved, rateOf } from './rounds.ts';
import type { Store } from './store.ts';
import { BEGIN } from './unit-record.ts';

/**
 * Sixty sites of eight units, a month of runs in each, and one outage of the utility that all of them saw: how soon the list
 * of power events, the review of that one, one site's, and the month's report are there, against the bare query for as
 * many events.
 */
const SITES = 60;
const UNITS = 8;
const DAYS = 31;
const RUN_EVERY = 2160; // 40 runs a day, of ten minutes each
const OUTAGE: Instant = BEGIN + (DAYS - 1) * seconds(86_400) + seconds(7 * 3600);
const AWAY = 240;

const siteIds = Array.from({ length: SITES }, (_, i) => `school-${String(i + 1).padStart(2, '0')}`);

const documentOf = (name: string) => ({
  name,
  timeZone: 'UTC',
  gateways: [{ id: 'gateway' }],
  panels: [{ id: 'panel-a' }, { id: 'panel-b' }],
  units: Array.from({ length: UNITS }, (_, i) => ({
    id: `unit-${i + 1}`,
    panel: i % 2 === 0 ? 'panel-a' : 'panel-b',
    space: `room-${Math.floor(i / 2) + 1}`,
    protection: { offDelay: 180 + 10 * i },
    points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }, { signal: 'control-voltage' }],
  })),
  spaces: Array.from({ length: UNITS / 2 }, (_, i) => ({
    id: `room-${i + 1}`,
  })),
});

export async function benchReview(store: Store, rounds: number): Promise<void> {
  heading(`${SITES} sites of ${UNITS} units, a month of runs, one outage that all of them saw`);
  const { database } = store;
  for (const id of siteIds)
    await putSite(database, { site: id, document: documentOf(id), from: -Infinity, now: BEGIN, by: 'bench' });
  const runs = await putRuns(database);
  const facts = await database.transaction({ name: 'bench' }, (queries) => putOutages(queries));
  await database.run(statement('', 'analyze'));
  await serving(store, async (server) => {
    const stretch = {
      from: formatInstant(BEGIN),
      to: formatInstant(BEGIN + DAYS * seconds(86_400)),
    };
    const { items } = JSON.parse(await askServer(server, 'power-events', stretch)) as {
      items: { id: string; sites: object[] }[];
    };
    const [first] = items;
    note(
      `${runs} runs, ${facts} facts of the supply; ${items.length} power event of ${first!.sites.length} sites`,
    );
    const asked = (name: string, path: string, query = {}) => ({
      name,
      run: () => rateOf(1, () => askServer(server, path, query)),
    });
    const figures = await interleaved(rounds, [
      { name: 'bare SQL', run: () => rateOf(1, () => bareEvents(database)) },
      asked('list', 'power-events', stretch),
      asked('review', `power-events/${first!.id}/review`),
      asked('one site', `power-events/${first!.id}/sites/${siteIds[0]!}/review`),
      asked('report', 'reports/2026-03'),
    ]);
    const bare = figures['bare SQL']!;
    ratio('the list of power events', figures['list']!, bare, 'a second');
    ratio(`the review of ${SITES} sites`, figures['review']!, bare, 'a second');
    ratio('the review of one of them', figures['one site']!, bare, 'a second');
    ratio('the month’s report of all of them, beside the month before', figures['report']!, bare, 'a second');
  });
}

/** Every event of the outage's hour. */
const BARE = statement(
  'bare-review',
  'select body from events where site = any($1) and start_latest >= $2 and start_latest < $3',
);
const bareEvents = (database: Database) =>
  database.many(BARE, [
    siteIds,
    formatInstant(OUTAGE - seconds(1800)),
    formatInstant(OUTAGE + seconds(1800)),
  ]);

/** Each unit's runs, in one statement a site: the body is what a fold stores, its id made up. */
const RUNS = statement(
  '',
  `insert into events (id, subject_id, site, panel, unit, kind, cause, certainty, start_earliest, start_latest, end_latest,
     body, revision, settled_at)
   select format('%s-%s-%s', s.site, s.device, n), s.id, s.site, p.panel, s.device, 'compressor-run', 'call-ended', 'certain',
     x.a - interval '1 s', x.a, x.b, jsonb_build_object('id', format('%s-%s-%s', s.site, s.device, n), 'site', s.site, 'panel',
       p.panel, 'unit', s.device, 'space', null, 'kind', 'compressor-run', 'cause', 'call-ended', 'start',
       jsonb_build_object('earliest', us.a - 1000000, 'latest', us.a), 'end', jsonb_build_object('earliest', us.b - 1000000,
       'latest', us.b), 'certainty', 'certain', 'causeCertainty', 'certain', 'pending', '[]'::jsonb, 'measures',
       '{"runSeconds": 600}'::jsonb, 'candidates', '[]'::jsonb, 'evidence', '[]'::jsonb, 'members', '[]'::jsonb,
       'discriminator', ''), 1, x.b
   from subjects s, lateral (select right(s.device, 1)::int as number) u,
     lateral (select case when u.number % 2 = 1 then 'panel-a' else 'panel-b' end as panel) p, generate_series(0, $3) n,
     lateral (select $2::timestamptz + n * $4 * interval '1 s' + u.number * interval '97 s' as a) t,
     lateral (select t.a, t.a + interval '600 s' as b) x,
     lateral (select (extract(epoch from x.a) * 1000000)::int8 as a, (extract(epoch from x.b) * 1000000)::int8 as b) us
   where s.site = $1 and s.kind = 'unit'`,
);

async function putRuns(database: Database): Promise<number> {
  const last = Math.floor((DAYS * 86_400) / RUN_EVERY) - 1;
  let count = 0;
  for (const site of siteIds)
    count += await database.run(RUNS, [site, formatInstant(BEGIN), last, RUN_EVERY]);
  return count;
}

async function putOutages(queries: Queries): Promise<number> {
  let count = 0;
  for (const [i, site] of siteIds.entries()) {
    const { subjects } = await readDeviceIds(queries, site);
    for (const event of outageAt(site, OUTAGE + i * 1000)) {
      const panel = subjects.get(`panel/${event.panel!}`)!;
      const row = { event, settledAt: event.end!.latest };
      await putEvent(queries, panel, row, {
        replaces: [],
        why: { kind: 'in-order' },
        keep: false,
      });
      count++;
    }
  }
  return count;
}

/** Every unit's loss, and each panel's restart. */
function outageAt(site: string, at: Instant): EventDraft[] {
  const back = at + seconds(AWAY);
  const span = (t: Instant): Span => ({ earliest: t - seconds(0.2), latest: t });
  const panels = ['panel-a', 'panel-b'].map((device) => {
    const members = Array.from({ length: UNITS }, (_, i) => i)
      .filter((i) => (i % 2 === 0) === (device === 'panel-a'))
      .map((i) => `unit-${i + 1}`);
    return { device, members };
  });
  return panels.flatMap(({ device, members }) => {
    const subject: Subject = { kind: 'panel', site, device };
    const losses = members.map((unit) => lossOf(subject, unit, span(at), span(back)));
    const restart = draftAbout(subject, {
      kind: 'restart-sequence',
      cause: null,
      start: span(back),
      end: span(back + seconds(200)),
      certainty: 'certain',
      members,
      measures: Object.fromEntries(
        members.flatMap((unit, i) => [
          [`${unit}.outcome`, 'started'],
          [`${unit}.startedSeconds`, [150 + 5 * i, 150.5 + 5 * i]],
        ]),
      ),
    });
    return [...losses, restart];
  });
}

function lossOf(subject: Subject, unit: string, start: Span, end: Span): EventDraft {
  const kind: EventKind = 'power-loss';
  return {
    ...draftAbout(subject, {
      kind,
      cause: 'supply',
      start,
      end,
      certainty: 'certain',
      causeCertainty: 'certain',
    }),
    id: eventId({ kind: 'unit', site: subject.site, device: unit }, kind, '', start.latest),
    unit,
  };
}
