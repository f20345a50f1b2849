import { readDeviceIds } from '../../db/points.ts';
import { putEvent } from '../../db/follow-events.ts';
import { providePlaces } from '../../db/partitions.ts';
import { statement, type Database } from '../../db/pool.ts';
import { rollUp } from '../../db/rollups.ts';
import { formatInstant, inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import { draftAbout } from '../../shared/inference/subject-draft.ts';
import { askServer, serving, timed } from './asked.ts';
import { heading, note, ratio, thousands } from './report.ts';
import { interleaved, rateOf } from './rounds.ts';
import { putBenchSite, type Store } from './store.ts';
import { BEGIN, SITE } from './unit-record.ts';

/**
 * A year of line voltage each second: how soon the panel's chart and the list of its events open, against the bare query
 * for the same pixels. Ten panels have a year of events (three sags a day each); a year of samples is 31.5 million rows and
 * some 3 GB a panel, so as many have those as `BENCH_PANELS` says: one, if it isn't set. (`BENCH_DAYS` makes the year shorter.) What the chart of a panel costs
 * doesn't depend on the others.
 */
const PANELS = 10;
const DAYS = Number(process.env['BENCH_DAYS'] ?? 365);
const WIDTH = 1200;
const TIMES = 10;
const DAY = seconds(86_400);
const SAGS_A_DAY = 3;
const TO = BEGIN + DAYS * seconds(86_400);

const document = {
  timeZone: 'UTC',
  panels: Array.from({ length: PANELS }, (_, i) => ({
    id: `panel-${i + 1}`,
    nominalVoltage: 240,
    points: [{ signal: 'line-voltage', reporting: { mode: 'polled', seconds: 1 } }],
  })),
};

export async function benchVoltageYear(store: Store, rounds: number): Promise<void> {
  const filled = Math.min(PANELS, Math.max(1, Number(process.env['BENCH_PANELS'] ?? 1)));
  heading(`A year of voltage each second: ${filled} of ${PANELS} panels with samples, all with events`);
  const { database } = store;
  const points = await putBenchSite(database, 1, document);
  const ids = Array.from({ length: filled }, (_, i) => points.get(`panel-${i + 1}/line-voltage`)!);
  const [rows, laying] = await timed(() => layDown(database, ids));
  const [, rolling] = await timed(() => rollUpAll(database));
  note(`${thousands(rows)} rows laid down in ${laying.toFixed(0)} s, rolled up in ${rolling.toFixed(0)} s`);
  const events = await putSags(database);
  await database.run(statement('', 'analyze'));
  await serving(store, async (server) => {
    const stretch = { from: formatInstant(BEGIN), to: formatInstant(TO) };
    const chart = {
      site: SITE,
      device: 'panel-1',
      signals: 'line-voltage',
      width: String(WIDTH),
      ...stretch,
    };
    const list = { site: SITE, panel: 'panel-1', ...stretch };
    const figures = await interleaved(rounds, [
      { name: 'bare SQL', run: () => rateOf(TIMES, () => times(() => bareChart(database, ids[0]!))) },
      { name: 'chart', run: () => rateOf(TIMES, () => times(() => askServer(server, 'series', chart))) },
      { name: 'bare list', run: () => rateOf(TIMES, () => times(() => bareEvents(database))) },
      { name: 'events', run: () => rateOf(TIMES, () => times(() => askServer(server, 'events', list))) },
      {
        name: 'power events',
        run: () => rateOf(TIMES, () => times(() => askServer(server, 'power-events', stretch))),
      },
    ]);
    ratio('the year’s chart over HTTP', figures['chart']!, figures['bare SQL']!, 'a second');
    ratio('a panel’s events, first page', figures['events']!, figures['bare list']!, 'a second');
    ratio('the site’s power events of the year', figures['power events']!, figures['bare list']!, 'a second');
    const [pixels, once] = await timed(() => rawChart(database, ids[0]!));
    note(`the same ${pixels} pixels from the samples themselves: ${once.toFixed(1)} s, once`);
    note(`${events} events in all; one request at a time`);
  });
}

async function times(work: () => Promise<unknown>): Promise<void> {
  for (let i = 0; i < TIMES; i++) await work();
}

/** 240 V with a daily swing and some noise; a sag of two seconds thrice a day. Ten days a statement. */
const LAY = statement(
  '',
  `insert into samples (point_id, t, value, quality)
   select $1, s, 240 + 3 * sin(extract(epoch from s)::float8 / 13751) + (extract(epoch from s)::int8 * 7919 % 11) / 10.0
     - case when extract(epoch from s)::int8 % 28800 < 2 then 60 else 0 end, 0
   from generate_series($2::timestamptz, $3::timestamptz - interval '1 second', interval '1 second') s`,
);
const MARK = statement(
  '',
  `insert into rollup_marks (point_id, from_t, to_t)
   select $1, d, d + interval '1 day' from generate_series($2::timestamptz, $3::timestamptz - interval '1 day', interval '1 day') d`,
);

async function layDown(database: Database, ids: readonly number[]): Promise<number> {
  const piece = 5 * DAY;
  let rows = 0;
  const days = Array.from({ length: Math.ceil((TO - BEGIN) / DAY) }, (_, i) => BEGIN + i * DAY);
  await providePlaces(database, days);
  for (const id of ids) {
    for (let from = BEGIN; from < TO; from += piece)
      rows += await database.run(LAY, [id, formatInstant(from), formatInstant(Math.min(TO, from + piece))]);
    await database.run(MARK, [id, formatInstant(BEGIN), formatInstant(TO)]);
  }
  await database.run(statement('', 'analyze samples'));
  return rows;
}

async function rollUpAll(database: Database): Promise<void> {
  while (await rollUp(database, TO));
}

async function putSags(database: Database): Promise<number> {
  const { subjects } = await readDeviceIds(database, SITE);
  let count = 0;
  await database.transaction({ name: 'bench' }, async (queries) => {
    for (let panel = 1; panel <= PANELS; panel++)
      for (let sag = 0; sag < DAYS * SAGS_A_DAY; sag++, count++) {
        const device = `panel-${panel}`;
        const event = sagAt(device, BEGIN + sag * (DAY / SAGS_A_DAY));
        const why = { kind: 'in-order' } as const;
        const row = { event, settledAt: event.end!.latest };
        await putEvent(queries, subjects.get(`panel/${device}`)!, row, { replaces: [], why, keep: false });
      }
  });
  return count;
}

const sagAt = (device: string, at: Instant) =>
  draftAbout(
    { kind: 'panel', site: SITE, device },
    {
      kind: 'voltage-sag',
      cause: null,
      start: { earliest: at - seconds(1), latest: at },
      end: exactly(at + seconds(2)),
      certainty: 'certain',
      measures: {
        residualVolts: [0, 180],
        residualPerUnit: [0, 0.75],
        seconds: [1, 3],
        class: 'not measured',
      },
    },
  );

const BARE_EVENTS = statement(
  'bare-events',
  'select body from events where site = $1 and panel = $2 order by start_latest, id limit 201',
);
const bareEvents = (database: Database) => database.many(BARE_EVENTS, [SITE, 'panel-1']);

/** As many pixels, from the rows that a chart of a year can be made of. */
const BARE_CHART = statement(
  'bare-chart',
  `select min(first_t), min(least), max(most), sum(total) / sum(good) from sample_rollups
   where point_id = $1 and from_t >= $2 and from_t < $3 group by floor(extract(epoch from from_t - $2) / $4) order by 1`,
);
const RAW_CHART = statement(
  '',
  `select min(t), min(value), max(value), avg(value) from samples
   where point_id = $1 and t >= $2 and t < $3 group by floor(extract(epoch from t - $2) / $4) order by 1`,
);
const parameters = (id: number) => [
  id,
  formatInstant(BEGIN),
  formatInstant(TO),
  inSeconds(TO - BEGIN) / WIDTH,
];
const bareChart = (database: Database, id: number) => database.many(BARE_CHART, parameters(id));
const rawChart = async (database: Database, id: number) =>
  (await database.many(RAW_CHART, parameters(id))).length;
