import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { statement, type Database } from '../../db/pool.ts';
import { readConfigurationRevision, readSiteHistory } from '../../db/site-history.ts';
import { deleteSite, putSite } from '../../db/sites.ts';
import { parseInstant, type Instant } from '../../shared/base/instant.ts';
import { takeAllWork, commitSamples } from '../fixtures/commit.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const SITE = 'small-school';
const NOW = parseInstant('2026-03-02T08:00:00Z')!;

let store: FreshDatabase;
let database: Database;
beforeAll(async () => {
  store = await freshDatabase();
  database = store.database;
});
beforeEach(() => deleteSite(database, SITE));
afterAll(() => store.drop());

const put = (document: unknown, from: Instant | null = null, now = NOW) =>
  putSite(database, { site: SITE, document, from, now, by: 'the engineer' });

const named = (name: string) => ({ ...SMALL_SCHOOL, name });

const history = async () =>
  (await readSiteHistory(database, SITE)).map(({ from, site }) => [from, site.name] as const);

const names = (text: string) =>
  database.many<{ name: string }>(statement('', text), [SITE]).then((rows) => rows.map(({ name }) => name));

test('a first document counts from always, a later one from now unless said', async () => {
  expect(await put(named('first'))).toMatchObject({ created: true, from: -Infinity });
  expect(await put(named('second'))).toMatchObject({ created: false, from: NOW });
  expect(await history()).toEqual([
    [-Infinity, 'first'],
    [NOW, 'second'],
  ]);
});

test('a document holds from its instant on: those of later instants give way', async () => {
  await put(named('first'));
  await put(named('later'), NOW + 5);
  await put(named('changed then'), NOW - 5);
  expect(await history()).toEqual([
    [-Infinity, 'first'],
    [NOW - 5, 'changed then'],
  ]);
  await put(named('was wrong'), -Infinity);
  expect(await history()).toEqual([[-Infinity, 'was wrong']]);
});

test('the rows that its folds ask for are there', async () => {
  await put(SMALL_SCHOOL);
  expect(
    await names("select kind || '/' || device as name from subjects where site = $1 order by 1"),
  ).toEqual(['gateway/gateway', 'panel/panel-a', 'site/site', 'space/space', 'unit/unit-1']);
  const reads = `select s.device || ' reads ' || p.device || '/' || p.signal as name
    from point_subjects ps join subjects s on s.id = ps.subject_id join points p on p.id = ps.point_id
    where s.site = $1 and s.kind = 'unit' order by 1`;
  expect(await names(reads)).toEqual([
    'unit-1 reads gateway/life',
    'unit-1 reads unit-1/compressor-output',
    'unit-1 reads unit-1/control-voltage',
    'unit-1 reads unit-1/cooling-call',
  ]);
  const follows = `select s.kind || ' follows ' || m.device as name from subject_members sm
    join subjects s on s.id = sm.subject_id join subjects m on m.id = sm.member_id where s.site = $1 order by 1`;
  expect(await names(follows)).toEqual(['panel follows unit-1', 'space follows unit-1']);
});

test('every change raises the revision and makes its subjects be inferred again from its instant', async () => {
  await put(SMALL_SCHOOL);
  const before = await readConfigurationRevision(database);
  await takeAllWork(database);
  const { revision } = await put(named('second'), NOW - 7);
  expect(revision).toBe(before + 1);
  const work = await takeAllWork(database);
  expect(work).toHaveLength(5);
  expect(work.every(({ earliest }) => earliest === NOW - 7)).toBe(true);
});

test('a point keeps its row and its samples when it leaves the configuration and comes back', async () => {
  await put(SMALL_SCHOOL);
  await commitSamples(database, SITE, [{ key: 'unit-1/cooling-call', t: NOW, value: 1, quality: 0 }]);
  const idOf = () =>
    database.one<{ id: number }>(
      statement(
        '',
        "select id from points where site = $1 and device = 'unit-1' and signal = 'cooling-call'",
      ),
      [SITE],
    );
  const before = await idOf();
  await put({ ...SMALL_SCHOOL, units: [] }, -Infinity);
  await put(SMALL_SCHOOL, -Infinity);
  expect(await idOf()).toEqual(before);
});

test('a document that its own checks refuse is refused whole', async () => {
  await put(SMALL_SCHOOL);
  const before = await readConfigurationRevision(database);
  await expect(put({ ...SMALL_SCHOOL, timeZone: 'Nowhere' })).rejects.toThrow('timeZone');
  expect(await readConfigurationRevision(database)).toBe(before);
  expect(await history()).toEqual([[-Infinity, 'Small school']]);
});

test('a site that is deleted is gone with all that was inferred of it', async () => {
  await put(SMALL_SCHOOL);
  expect(await deleteSite(database, SITE)).toBe(true);
  for (const table of ['subjects', 'points', 'point_subjects', 'subject_members', 'work_items'])
    expect(await database.many(statement('', `select from ${table}`))).toEqual([]);
  expect(await deleteSite(database, SITE)).toBe(false);
});

test('changes of several sites at once stand in line', async () => {
  const before = await readConfigurationRevision(database);
  const sites = Array.from({ length: 12 }, (_, i) => `site-${i}`);
  await Promise.all(
    sites.map((site) =>
      putSite(database, { site, document: SMALL_SCHOOL, from: null, now: NOW, by: 'import' }),
    ),
  );
  expect(await readConfigurationRevision(database)).toBe(before + 12);
  await Promise.all(sites.map((site) => deleteSite(database, site)));
});
