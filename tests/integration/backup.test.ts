import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import { afterAll, beforeAll, expect, inject, test } from 'vitest';
import { restoreBackup } from '../../db/backup/restore.ts';
import { readSequences } from '../../db/backup/tables.ts';
import { writeBackup, type BackupDone } from '../../db/backup/write.ts';
import { moveInstallation, type MoveProgress } from '../../db/move/move.ts';
import { knownMigrations, migrate, readApplied } from '../../db/migrate.ts';
import { statement, type Database } from '../../db/pool.ts';
import { useTimescale } from '../../db/timescale.ts';
import { NO_NOTICES } from '../../server/notify/settings.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { AlarmAnswer } from '../../shared/wire/alarm-answer.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commitSamples } from '../fixtures/commit.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';
import { leaveWork, liveIn, SITE, type LivedIn } from '../fixtures/lived-in.ts';
import { at, beats, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { ADMINISTRATOR } from '../fixtures/signed-in.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';
import { tableSums, type TableSum } from '../fixtures/table-sums.ts';
import { timescaleInWasm } from '../fixtures/timescale-wasm.ts';

/** A backup of an installation in which everything has happened, restored into an empty one, which then goes on. */
let folder: string;
let smtp: Smtp;
let lived: LivedIn;
let old: FreshDatabase;
let restored: FreshDatabase;
let asked: Record<string, unknown>;
let sums: Record<string, TableSum>;
const file = () => join(folder, 'all.backup');

const start = (store: FreshDatabase): Promise<ApiServer> =>
  startApi({
    store,
    notify: { ...NO_NOTICES, mail: { url: smtp.url, from: 'Holdoff <holdoff@example.org>', ca: null } },
  });

beforeAll(async () => {
  [folder, smtp, old, restored] = await Promise.all([
    mkdtemp(join(tmpdir(), 'backup-')),
    startSmtp(),
    freshDatabase(),
    freshDatabase(),
  ]);
  const api = await start(old);
  lived = await liveIn(api, smtp);
  asked = await answersOf(api);
  await api.stop();
  await leaveWork(old.database);
});
afterAll(async () => {
  await Promise.all([old.drop(), restored.drop(), smtp.stop(), rm(folder, { recursive: true })]);
});

interface Ran {
  readonly code: number;
  readonly said: string;
}
const run = (script: string, url: string, ...words: string[]): Promise<Ran> =>
  new Promise((done) => {
    const all = [join(inject('startFiles'), `server/${script}.js`), ...words];
    const env = { PATH: process.env['PATH'], DATABASE_URL: url };
    execFile(process.execPath, all, { env }, (error, _out, said) =>
      done({ code: Number(error?.code ?? 0), said }),
    );
  });

/** When it was asked, and of which process. */
const withoutMoment = (body: unknown): unknown =>
  typeof body === 'string' ? body : { ...(body as object), epoch: null, serverTime: null };

/** As pages ask for sites, samples, events and alarms. */
async function answersOf({ get, send }: ApiServer): Promise<Record<string, unknown>> {
  const day = `from=${new Date(Date.now() - 7200_000).toISOString()}&to=${new Date(Date.now() + 7200_000).toISOString()}`;
  const signedIn = await send('POST', '/api/account/sign-in', {
    email: 'ada@example.org',
    password: 'seven grey herons wait',
  });
  const cookie = signedIn.headers.get('set-cookie')!.split(';')[0]!;
  const paths = [
    '/api/sites',
    `/api/sites/${SITE}`,
    `/api/export/samples?site=${SITE}`,
    `/api/events?site=${SITE}`,
    `/api/events?site=${SITE}&${day}`,
    `/api/alarms?site=${SITE}`,
    `/api/alarms/${lived.alarm}`,
    `/api/alarms/${lived.alarm}/visit`,
    `/api/panels/${SITE}/panel-a/recordings`,
    '/api/on-call',
  ];
  const answers: Record<string, unknown> = {};
  for (const path of paths) {
    const answer = path.startsWith('/api/export')
      ? await get(path)
      : await send('GET', path, undefined, { cookie });
    answers[path.replace(/&from=.*/, '&from=…')] = [answer.status, withoutMoment(answer.body)];
  }
  return answers;
}

test('no table of the schema is empty here: whoever adds one lets something be in it (tests/fixtures/lived-in.ts)', async () => {
  const empty = Object.entries(await tableSums(old.database)).filter(([, { rows }]) => rows === 0);
  expect(empty.map(([name]) => name)).toEqual([]);
});

test('goes into one file that only its owner may read, and comes back the same, table by table', async () => {
  expect(await run('backup', old.url, file())).toMatchObject({ code: 0 });
  sums = await tableSums(old.database);
  expect((await stat(file())).mode & 0o777).toBe(0o600);
  expect((await run('backup', old.url, file())).said).toContain('is there already');
  const back = await run('restore', restored.url, file());
  expect(back).toMatchObject({ code: 0 });
  expect(back.said).toContain('Start it now.');
  expect(await tableSums(restored.database)).toEqual(afterRestore());
  expect(await restored.database.many(UNCOUNTED)).toEqual([]);
  const sequences = [await readSequences(old.database), await readSequences(restored.database)];
  expect(sequences[1]).toEqual(sequences[0]);
  expect(sequences[0]!.length).toBeGreaterThan(0);
  const full = await run('restore', restored.url, file());
  expect(full.code).toBe(1);
  expect(full.said).toMatch(/^The installation isn’t empty \(sites, /);
});

test('the restored installation answers the same, and goes on: nothing is raised twice, nobody is told twice', async () => {
  const subjects = () => smtp.mails.map(({ headers }) => headers.get('subject'));
  const before = subjects();
  const alarmsBefore = await rowsIn(restored.database, 'alarm_changes');
  const api = await start(restored);
  try {
    const answers = await answersOf(api);
    for (const path of Object.keys(asked)) expect(answers[path], path).toEqual(asked[path]);
    const more = [...LOCKOUT, [930, { controlVoltage: 0 }]] as const;
    const rows = rowsOf(more, 1100, -200).filter(({ t }) => t > at(0));
    await commit(
      restored.database,
      SITE,
      [...told(rows), ...beats(20, 200)],
      [{ from: at(-20), to: at(200) }],
    );
    const events = await caughtUp(restored.database, SITE);
    expect(events.map(({ kind }) => kind)).toContain('power-loss');
    const items = async () => {
      const { email, password } = ADMINISTRATOR;
      const signedIn = await api.send('POST', '/api/account/sign-in', { email, password });
      const cookie = signedIn.headers.get('set-cookie')!.split(';')[0]!;
      return (await api.send('GET', `/api/alarms?site=${SITE}`, undefined, { cookie })).body
        .items as AlarmAnswer[];
    };
    await expect.poll(async () => (await items()).map(({ rule }) => rule)).toContain('unit-power-loss');
    expect((await items()).filter(({ rule }) => rule === 'hard-lockout').map(({ id }) => id)).toEqual([
      lived.alarm,
    ]);
    expect(await rowsIn(restored.database, 'alarm_changes')).toBeGreaterThan(alarmsBefore);
    // what was told stays told: what comes now is of what has happened since
    expect(before.length).toBeGreaterThan(0);
    expect(new Set(subjects()).size).toBe(subjects().length);
    expect(subjects().slice(before.length).join()).not.toContain('Hard lockout');
  } finally {
    await api.stop();
  }
});

/** All but the ingests that worked on the old one: nobody waits for them here. */
const afterRestore = () => ({
  ...sums,
  ingests: { rows: 0, sum: null },
  gateway_lives: expect.objectContaining({ rows: sums['gateway_lives']!.rows }) as TableSum,
});
const UNCOUNTED = statement('', 'select 1 from gateway_lives where counted_t <> t or next_t is not null');

const rowsIn = async (database: Database, table: string): Promise<number> =>
  (await tableSums(database))[table]!.rows;

/** The lines of a backup; between its chunks something may happen. */
async function linesOf(
  database: Database,
  between: () => Promise<unknown> = async () => {},
  pageRows = 1000,
): Promise<{ text: string; done: BackupDone }> {
  const chunks: Buffer[] = [];
  const write = async (chunk: Buffer): Promise<void> => {
    chunks.push(Buffer.from(chunk));
    await between();
  };
  const done = await writeBackup(database, {
    program: 'test',
    now: at(0),
    write,
    progress: () => {},
    pageRows,
  });
  return { text: Buffer.concat(chunks).toString(), done };
}

async function* inBits(text: string, bytes: number): AsyncGenerator<Buffer> {
  const all = Buffer.from(text);
  for (let from = 0; from < all.length; from += bytes) yield all.subarray(from, from + bytes);
}
const restoreText = (database: Database, text: string, bytes = 65_536) =>
  restoreBackup(database, { chunks: inBits(text, bytes), progress: () => {} });

test('a file that was cut short or damaged, that is newer or none of ours: nothing is restored, and why is said', async () => {
  const store = await freshDatabase();
  const whole = gunzipSync(await readFile(file())).toString();
  const lines = whole.split('\n');
  const broken: [string, RegExp][] = [
    [whole.slice(0, whole.length / 2), /cut short/],
    [lines.slice(0, -2).join('\n') + '\n', /cut short/],
    [
      whole.replace('\tcompressor-output\n', '\tcompressor-0utput\n'),
      /^The file is damaged: points isn’t as it was written/,
    ],
    [
      whole.replace(/\{"table":"findings","columns"[^]*?\n\{"table":"findings","rows".*\n/, ''),
      /parts are missing findings/,
    ],
    [
      whole.replace('"migrations":[', '"migrations":[9999,'),
      /of a newer program \(its schema ends with 9999, this one’s with \d+\)/,
    ],
    ['site,point,t,value\n', /isn’t a backup of this program/],
  ];
  for (const [text, says] of broken) await expect(restoreText(store.database, text)).rejects.toThrow(says);
  const packed = join(folder, 'short.backup');
  await writeFile(packed, gzipSync(whole).subarray(0, 5_000));
  const short = await run('restore', store.url, packed);
  expect([short.code, short.said]).toEqual([1, expect.stringContaining('cut short')]);
  const left = await tableSums(store.database);
  expect(Object.entries(left).filter(([name, { rows }]) => rows > 0 && name !== 'configuration')).toEqual([]);
  // however the file falls into chunks
  await restoreText(store.database, whole, 37);
  expect(await tableSums(store.database)).toEqual(afterRestore());
  await store.drop();
});

const CALL = 'unit-1/cooling-call';
const VOLTAGE = 'unit-1/control-voltage';
const T0: Instant = Date.UTC(2026, 2, 2) * 1_000;

/** Each batch has a new sample of both points, one far behind all others, and one that changes what was there. */
async function pour(database: Database, batch: number): Promise<void> {
  const samples = [
    [CALL, batch, batch],
    [VOLTAGE, batch, batch],
    [CALL, -100_000 + batch, batch],
    [VOLTAGE, -200_000 - batch, batch],
    [CALL, -1, 1000 - batch],
  ].map(([key, minute, value]) => ({
    key: key as string,
    t: T0 + Number(minute) * 60 * SECOND,
    value: Number(value),
    quality: 0,
  }));
  await commitSamples(database, 'small-school', samples);
}

const BATCHES = statement(
  '',
  'select value, count(*) as rows from samples where value < 900 group by value order by value',
);
const CHANGED = statement('', 'select value from samples where value >= 900');

test('taken while samples pour in, it is one moment: of each batch everything or nothing, in order', async () => {
  const [store, empty] = await Promise.all([freshDatabase(), freshDatabase()]);
  await putDocument(store.database, 'small-school', SMALL_SCHOOL);
  let batch = 0;
  const next = () => pour(store.database, batch++);
  for (let i = 0; i < 40; i++) await next();
  const { text } = await linesOf(store.database, next, 20);
  await restoreText(empty.database, text);
  const batches = await empty.database.many<{ value: number; rows: number }>(BATCHES);
  expect(batches.map(({ value }) => value)).toEqual(batches.map((_, i) => i));
  expect(new Set(batches.map(({ rows }) => rows))).toEqual(new Set([4]));
  // the pages let some come by; none of those that came after the snapshot had begun is in it
  expect(batches.length).toBeGreaterThan(45);
  expect(batches.length).toBeLessThan(batch);
  expect(await empty.database.many(CHANGED)).toEqual([{ value: 1000 - batches.length + 1 }]);
  await Promise.all([store.drop(), empty.drop()]);
});

test('from plain PostgreSQL into TimescaleDB and back, the same', async () => {
  const whole = gunzipSync(await readFile(file())).toString();
  const [wasm, plain] = await Promise.all([timescaleInWasm(), freshDatabase()]);
  await useTimescale(wasm);
  await restoreText(wasm, whole);
  expect(await tableSums(wasm)).toEqual(afterRestore());
  const { text } = await linesOf(wasm);
  await restoreText(plain.database, text);
  expect(await tableSums(plain.database)).toEqual(await tableSums(wasm));
  await Promise.all([wasm.close(), plain.drop()]);
});

test('of an older schema: what has come since is done to it', async () => {
  const [store, empty] = await Promise.all([freshDatabase(), freshDatabase()]);
  await store.database.run(statement('', 'drop schema public cascade; create schema public'));
  await migrate(store.database, (number) => number <= 19);
  await store.database.run(statement('', "insert into sites (id, revision) values ('old', 1)"));
  const had = (await readApplied(store.database)).length;
  const { text } = await linesOf(store.database);
  const { migrated } = await restoreText(empty.database, text);
  expect(migrated.length).toBe((await knownMigrations()).length - had);
  expect(await rowsIn(empty.database, 'sites')).toBe(1);
  await Promise.all([store.drop(), empty.drop()]);
});

/** An installation whose connection breaks in the middle of what is copied from it after so many copies. */
function breaksAfter(copies: number): Database {
  let left = copies;
  const copyOut = async function* (text: string): AsyncGenerator<Buffer> {
    for await (const chunk of old.database.copyOut(text)) {
      yield chunk.subarray(0, chunk.indexOf(10) + 1);
      if (--left < 0) throw new Error('the connection broke');
      yield chunk.subarray(chunk.indexOf(10) + 1);
    }
  };
  return { ...old.database, copyOut };
}

test('moved to TimescaleDB: broken off in the middle it goes on, copies again what changed, and every table is the same', async () => {
  const wasm = await timescaleInWasm();
  const told: MoveProgress[] = [];
  const how = { progress: (at: MoveProgress) => void told.push(at), pageRows: 50 };
  await expect(moveInstallation(breaksAfter(40), wasm, how)).rejects.toThrow('the connection broke');
  const first = told.splice(0);
  expect(first.at(-1)!.rows).toBeGreaterThan(0);
  expect(first.at(-1)!.rows).toBeLessThan(first.at(-1)!.of);
  const another = moveInstallation(restored.database, wasm, how);
  await expect(another).rejects.toThrow('holds the half-done move of another installation');

  await old.database.run(statement('', "update people set name = 'Ann Otherwise' where name = 'Ann'"));
  await old.database.run(statement('', 'delete from samples where t = (select min(t) from samples)'));
  const done = await moveInstallation(old.database, wasm, how);
  expect(done).toMatchObject({ isResumed: true, storage: { kind: 'timescaledb' } });
  expect(done.again).toBeGreaterThan(0);
  expect(told[0]!.rows).toBeGreaterThanOrEqual(first.at(-1)!.rows); // nothing that was there is copied from the beginning
  expect(await tableSums(wasm)).toEqual(await tableSums(old.database));
  expect(await readSequences(wasm)).toEqual(await readSequences(old.database));
  await expect(moveInstallation(old.database, wasm, how)).rejects.toThrow(
    /^The database at --to isn’t empty/,
  );
  console.log(`moved: ${done.rows} rows of ${done.tables} tables, ${done.again} parts again`);
  await wasm.close();
});

test('the command moves into another PostgreSQL, says what comes next, and refuses what it must', async () => {
  const empty = await freshDatabase();
  const moved = await run('move', old.url, '--to', empty.url);
  expect(moved).toMatchObject({ code: 0 });
  expect(moved.said).toContain('the same by count and digest');
  expect(moved.said).toContain('Set DATABASE_URL=postgres');
  expect(await tableSums(empty.database)).toEqual(await tableSums(old.database));
  const itself = await run('move', old.url, '--to', old.url);
  expect([itself.code, itself.said]).toEqual([1, '--to leads to the installation itself.\n']);
  const full = await run('move', old.url, '--to', empty.url);
  expect([full.code, full.said]).toEqual([1, expect.stringContaining('isn’t empty')]);
  expect((await run('move', old.url)).code).toBe(2);
  await empty.drop();
});
