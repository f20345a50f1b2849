import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { providePlaces } from '../../db/partitions.ts';
import { statement, type Database } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { samplesWriter } from '../../shared/wire/export-rows.ts';
import { exportFile } from '../../server/transfer/export-file.ts';
import { samplesInOrder } from '../../server/transfer/samples-in-order.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { readDeviceIds } from '../../db/points.ts';
import { commit as commitParts } from '../fixtures/commit.ts';
import { caughtUp, commit, standingEvents } from '../fixtures/follow-store.ts';
import { CALL, HIGH, OUTPUT, recordOf, VOLTAGE } from '../fixtures/unit-record.ts';
import { casesOf } from '../fixtures/seed.ts';

/** A site's record out of one installation and into an empty one of the same configuration, by the commands, on real databases. */
let old: ApiServer;
let empty: ApiServer;
let folder: string;

const unit = (id: string) => ({
  id,
  panel: 'panel-a',
  protection: { offDelay: 30 },
  points: [CALL, OUTPUT, HIGH, VOLTAGE],
});
const DOCUMENT = {
  timeZone: 'UTC',
  panels: [{ id: 'panel-a', points: [{ signal: 'line-voltage' }] }],
  units: [unit('unit-1'), unit('unit-2')],
};
const BASE = seconds(1_700_000_000);

/** Two units of which one trips on high pressure, with two values of one instant, a bad one, and a microsecond. */
async function fill(database: Database): Promise<void> {
  const rows = recordOf(
    [
      [100, { call: true }],
      [400, { highPressureOpen: true }],
      [430, { highPressureOpen: false }],
      [1500, { call: false }],
    ],
    { offDelay: 30 },
    1800,
  ).map((row) => ({ ...row, t: row.t + BASE }));
  const second = rows.map((row) => ({ ...row, key: row.key.replace('unit-1', 'unit-2'), t: row.t + 1 }));
  const odd = [
    { key: 'unit-2/control-voltage', t: BASE + seconds(1700) + 123_457, value: 26.100000000000001 },
    { key: 'unit-2/control-voltage', t: BASE + seconds(1700) + 123_457, value: 25.3 },
    { key: 'unit-2/control-voltage', t: BASE + seconds(1701), value: 0.1 + 0.2, quality: 2 },
  ];
  for (const part of [rows, second, odd])
    await commit(database, 'annex', [{ gateway: 'gateway', rows: part }]);
}

beforeAll(async () => {
  [old, empty, folder] = await Promise.all([startApi(), startApi(), mkdtemp(join(tmpdir(), 'transfer-'))]);
  for (const { send } of [old, empty]) {
    const put = await send('PUT', '/api/sites/annex?from=always', DOCUMENT);
    expect(put.status).toBe(201);
  }
  await fill(old.store.database);
  await caughtUp(old.store.database, 'annex');
});
afterAll(async () => {
  await Promise.all([old.stop(), empty.stop()]);
  await rm(folder, { recursive: true });
});

interface Ran {
  readonly code: number;
  readonly out: string;
  readonly said: string;
}
const run = (script: string, { server }: ApiServer, ...words: string[]): Promise<Ran> =>
  new Promise((done) => {
    const all = [join(inject('startFiles'), `server/${script}.js`), '--api', server.url, ...words];
    execFile(process.execPath, all, (error, out, said) =>
      done({ code: Number(error?.code ?? 0), out, said }),
    );
  });

const SAMPLES = statement(
  '',
  `select p.device || '/' || p.signal as point, s.t, s.value, s.quality from samples s join points p on p.id = s.point_id
   order by 1, 2`,
);
const samplesOf = ({ store }: ApiServer) => store.database.many<{ point: string; t: Instant }>(SAMPLES);
const besideOf = async ({ store: { database } }: ApiServer) => ({
  intervals: await database.many(statement('', 'select * from intervals order by point_id, t')),
  waveforms: await database.many(statement('', 'select * from waveforms order by point_id, t')),
});
const eventsOf = ({ store }: ApiServer) => standingEvents(store.database, 'annex');

describe('a site’s record as files', () => {
  it('goes out whole, comes into an empty installation, and gives the same samples and events', async () => {
    const [samples, events] = [join(folder, 'annex.ndjson'), join(folder, 'events.ndjson')];
    const went = await Promise.all([
      run('export', old, '--site', 'annex', '--out', samples),
      run('export', old, '--site', 'annex', '--events', '--out', events),
    ]);
    expect(went.map(({ code }) => code)).toEqual([0, 0]);
    const lines = (await readFile(samples, 'utf8')).trimEnd().split('\n');
    const before = await samplesOf(old);
    expect(JSON.parse(lines[0]!)).toEqual({
      holds: 'samples',
      version: 1,
      site: 'annex',
      from: null,
      to: null,
    });
    expect(JSON.parse(lines.at(-1)!)).toEqual({ end: true, rows: before.length });
    expect(lines).toContain(
      '{"point":"unit-2/control-voltage","t":"2023-11-14T22:41:40.123457Z","v":25.3,"q":"uncertain","conflict":true}',
    );
    const times = lines.slice(1, -1).map((line) => (JSON.parse(line) as { t: string }).t.slice(0, 23));
    expect(times).toEqual([...times].sort());

    const came = await run('import', empty, samples);
    expect(came).toMatchObject({ code: 0 });
    expect(came.said).toContain(
      `${before.length} rows: ${before.length} taken, of which ${before.length} were new`,
    );
    expect(await samplesOf(empty)).toEqual(before);
    expect(await caughtUp(empty.store.database, 'annex')).toEqual(await eventsOf(old));
    expect((await eventsOf(old)).map(({ kind }) => kind)).toContain('soft-lockout');

    const [again, same] = [await run('import', empty, samples), await run('import', empty, events)];
    expect(again.said).toContain('of which 0 were new');
    expect(same).toMatchObject({ code: 0, out: '', said: 'The same events stand there.\n' });

    const mended = (await readFile(events, 'utf8')).replace('"kind":"soft-lockout"', '"kind":"hard-lockout"');
    await writeFile(events, mended);
    const differs = await run('import', empty, events);
    expect(differs.code).toBe(1);
    expect(differs.out).toMatch(/^otherwise there: soft-lockout of unit-\d, .*: kind\n$/);
  });

  it('intervals and waveforms go out and come back the same, as CSV and as NDJSON; what can’t be taken is told', async () => {
    const { database } = old.store;
    const { points } = await readDeviceIds(database, 'annex');
    const pointId = points.get('panel-a/line-voltage')!;
    const t = BASE + seconds(900);
    const interval = {
      pointId,
      from: t,
      to: t + seconds(60),
      least: 198.3,
      most: 241,
      mean: 0.1 + 0.2,
      quality: 0,
    };
    const wave = { pointId, t, stepSeconds: 1 / 7680, scale: -0.1, values: Float32Array.of(0.1, -2.5, 3e-7) };
    await commitParts(database, {
      intervals: [interval, { ...interval, to: t + seconds(61) + 1, mean: null, quality: 5 }],
      waveforms: [wave, { ...wave, t: t + seconds(1), values: Float32Array.of(7) }],
    });
    const ways = [
      ['intervals', 'csv'],
      ['waveforms', 'ndjson'],
      ['intervals', 'ndjson'],
      ['waveforms', 'csv'],
    ] as const;
    for (const [i, [holds, format]] of ways.slice(0, casesOf('TRANSFER_WAYS', 4)).entries()) {
      const file = join(folder, `annex.${holds}.${format}`);
      expect(await run('export', old, '--site', 'annex', `--${holds}`, '--out', file)).toMatchObject({
        code: 0,
      });
      const came = await run('import', empty, file);
      expect([came.code, came.said]).toEqual([0, expect.stringContaining('2 rows: 2 taken')]);
      expect(came.said).toContain(i < 2 ? 'of which 2 were new' : 'of which 0 were new');
      expect(await besideOf(empty)).toMatchObject({ [holds]: (await besideOf(old))[holds] });
    }
    const some = await old.get('/api/export/intervals?site=annex&to=2023-11-14T22:29:21Z');
    expect((some.body as string).split('\r\n')).toEqual([
      'site,point,from,to,least,most,mean,quality,conflict',
      'annex,panel-a/line-voltage,2023-11-14T22:28:20.000Z,2023-11-14T22:29:20.000Z,198.3,241,0.30000000000000004,good,0',
      '',
    ]);

    const broken = join(folder, 'broken.intervals.csv');
    const lines = [
      'site,point,from,to,least,most,mean,quality,conflict',
      'annex,unit-1/cooling-call,2023-11-14T22:00:00Z,2023-11-14T22:01:00Z,0,1,,good,0',
      'annex,panel-a/line-voltage,2023-11-14T22:02:00Z,2023-11-14T22:01:00Z,1,2,,good,0',
      'annex,panel-a/line-voltage,2023-11-14T22:00:00Z,2023-11-14T22:01:00Z,3,2,,good,0',
    ];
    await writeFile(broken, lines.join('\r\n'));
    const told = await run('import', empty, broken, '--dry-run');
    expect(told.said.trimEnd().split('\n').sort()).toEqual([
      '3 rows: 0 could be taken, 3 couldn’t. Nothing was written.',
      'line 2: unit-1/cooling-call is no analog value: an interval says nothing of it.',
      'line 3: It ends before it begins: turn from and to about.',
      'line 4: [3,2,null] is no least, most and mean: give three numbers, the mean may be missing.',
    ]);
  });

  it('goes out as CSV of one signal and a stretch; lines that can’t be taken are told one by one and kept', async () => {
    const asked = 'site=annex&device=unit-1&signal=compressor-output&to=2023-11-14T22:20:00Z';
    const { body, type, headers } = await old.get(`/api/export/samples?${asked}`);
    expect(type).toBe('text/csv');
    expect(headers.get('content-disposition')).toBe('attachment; filename="annex-samples.csv"');
    const rows = (body as string).split('\r\n');
    const wanted = (await samplesOf(old)).filter(
      ({ point, t }) => point === 'unit-1/compressor-output' && t < BASE + seconds(400),
    );
    expect(rows.length).toBe(wanted.length + 2);
    expect(rows.slice(0, 2)).toEqual([
      'site,point,t,value,quality,conflict',
      'annex,unit-1/compressor-output,2023-11-14T22:10:00.000Z,0,good,0',
    ]);

    const file = join(folder, 'broken.csv');
    const good = '"annex","unit-1/line-current",2023-12-01T23:00:00Z,1,good,0';
    const broken = [
      good.replace('line-current', 'cooling-call'),
      good, // no such point
      'annex,unit-1/cooling-call,yesterday,1,good,0',
      'annex,unit-1/cooling-call,2023-11-14T23:00:00Z,,good,0',
      'annex,unit-1/cooling-call,2023-11-14T23:00:00Z,1,fine,0',
      'annex,unit-1/cooling-call,2199-01-01T00:00:00Z,1,good,0',
      'annex,unit-1/cooling-call,2023-11',
    ];
    await writeFile(file, [rows[0], ...broken, ''].join('\r\n'));
    const before = (await samplesOf(empty)).length;
    const dry = await run('import', empty, file, '--dry-run');
    expect(dry.code).toBe(1);
    expect(dry.said.trimEnd().split('\n').sort()).toEqual([
      '7 rows: 1 could be taken, 6 couldn’t. Nothing was written.',
      'line 3: annex has no point unit-1/line-current: put it into the site’s configuration and import the line again.',
      'line 4: "yesterday" is no time: give ISO 8601 with its zone, as 2026-03-02T08:15:00.250Z.',
      'line 5: null is no value: give a number; for one that is missing leave the line out.',
      'line 6: "fine" is no quality: give good, uncertain or bad.',
      'line 7: 2199-01-01T00:00:00Z lies more than 5 minutes ahead: mend the time, or import the line once it has come.',
      'line 8: It has 3 cells for 6 columns: mend it or leave it out.',
    ]);
    expect((await samplesOf(empty)).length).toBe(before);

    const aside = join(folder, 'broken.set-aside.csv');
    const taken = await run('import', empty, file);
    expect(taken.said).toContain(
      `7 rows: 1 taken, of which 1 were new or changed what was there; 6 set aside in ${aside}.`,
    );
    expect((await samplesOf(empty)).length).toBe(before + 1);
    const kept = (await readFile(aside, 'utf8')).trimEnd().split('\r\n');
    expect([kept[0], ...kept.slice(1).sort()]).toEqual([rows[0], ...broken.slice(1).sort()]);
  });

  it('says what it can’t give, and refuses a file that isn’t one of ours', async () => {
    expect((await old.get('/api/export/samples?site=nowhere')).status).toBe(404);
    expect((await old.get('/api/export/samples?site=annex&device=unit-9')).status).toBe(404);
    expect(
      (await old.get('/api/export/events?site=annex&from=2024-01-01T00:00:00Z&to=2023-01-01T00:00:00Z'))
        .status,
    ).toBe(400);
    const events = (await old.get('/api/export/events?site=annex&format=csv')).body as string;
    expect(events.split('\r\n').length).toBe((await eventsOf(old)).length + 2);
  });
});

describe('200,000 samples of forty points', () => {
  const WRITE = statement(
    '',
    `insert into samples (point_id, t, value, quality)
     select 1000 + i % 40, to_timestamp(1700000000) + i / 40 * interval '1 s', i, 0 from generate_series(0, 199999) i`,
  );
  const points = Array.from({ length: 40 }, (_, i) => ({ id: 1000 + i, name: `unit-${i}/control-voltage` }));
  const head = { holds: 'samples', version: 1, site: 'annex', from: null, to: null } as const;
  let asked = 0;
  let counting: Database;

  beforeAll(async () => {
    const { database } = old.store;
    await providePlaces(database, [1_700_000_000e6, 1_700_005_000e6]);
    await database.run(WRITE);
    counting = { ...database, many: (what, values) => (asked++, database.many(what, values)) };
  });
  const fileOf = () => {
    asked = 0;
    const rows = samplesInOrder(counting, points, { from: -Infinity, to: Infinity });
    return exportFile(samplesWriter('ndjson', head), rows);
  };

  it('are all there, in order, however the pages fall', async () => {
    let [text, count, last] = ['', 0, -1];
    for await (const chunk of fileOf()) {
      text = chunk as string;
      if (!text.startsWith('{"point"')) continue;
      for (const line of text.trimEnd().split('\n')) {
        const { v } = JSON.parse(line) as { v: number };
        if (v !== last + 1) throw new Error(`${v} came after ${last}`);
        last = v;
        count++;
      }
    }
    expect([count, text]).toEqual([200_000, '{"end":true,"rows":200000}\n']);
    // pages of 1,250: four of each point, and one that finds nothing more
    expect(asked).toBe(200);
  });

  it('wait in the database for a reader that stops, and are asked for no longer once it has gone', async () => {
    const file = fileOf();
    const chunks = file[Symbol.asyncIterator]();
    for (let i = 0; i < 5; i++) await chunks.next();
    // the first pages of every point: no more is held than 50,000 rows
    expect(asked).toBe(40);
    const closed = new Promise((done) => file.once('close', done));
    file.destroy();
    await closed;
    expect(asked).toBe(40);
  });
});
