import { isDeepStrictEqual } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import Schema from 'typebox/schema';
import { statement } from '../../db/pool.ts';
import { readDeviceIds } from '../../db/points.ts';
import { answerAsks, TooManyRows } from '../../server/replay/answer-asks.ts';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldSubject, strand, type Asking } from '../../shared/replay/fold-subject.ts';
import { ReplayAnswer } from '../../shared/wire/replay-answer.ts';
import { replaySentences } from '../../shared/wire/replay-sentences.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { START } from '../fixtures/building-run.ts';
import { toldScenario, type Told } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';

/**
 * A replay over HTTP, on a real PostgreSQL: the school of the simulated building, whose utility fails three times on a hot
 * afternoon. On panel B two units restart together, since their off-cycle delays are the same.
 */
let api: ApiServer;
let told: Told;
const at = (second: number): string => formatInstant(START + seconds(second));

beforeAll(async () => {
  api = await startApi();
  told = toldScenario('utility-outage');
  await storeTold(api, told);
});
afterAll(() => api?.stop());

const ask = (more: object = {}) => ({ site: told.building.site, from: at(300), to: at(3600), ...more });

async function done(body: object): Promise<ReplayAnswer> {
  const posted = await api.send('POST', '/api/replay', body);
  expect(posted.status, JSON.stringify(posted.body)).toBe(202);
  expect(posted.headers.get('location')).toBe(`/api/replay/${posted.body.id}`);
  for (;;) {
    const { status, body: answer } = await api.get(`/api/replay/${posted.body.id}`);
    expect(status).toBe(200);
    if (answer.state !== 'waiting' && answer.state !== 'running') return answer;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

const said = ({ result }: ReplayAnswer): string[] => {
  const clock = (instant: number) => String(Math.round((instant - START) / 100_000) / 10);
  const { answer, differences, limits } = replaySentences(result!, clock);
  return [answer, ...differences.map(({ text, leans }) => (leans ? `${text} ${leans}` : text)), ...limits];
};

/** Every row of every table that a replay might touch, as one number each. */
async function stored(): Promise<unknown> {
  const tables = [
    'samples',
    'events',
    'unit_edges',
    'subject_states',
    'checkpoints',
    'work_items',
    'site_documents',
    'subjects',
  ];
  const counts: Record<string, unknown> = {};
  for (const table of tables)
    counts[table] = await api.store.database.one(
      statement(
        '',
        `select count(*) as rows, md5(coalesce(string_agg(t::text, ',' order by t::text), '')) as sum from ${table} t`,
      ),
    );
  return counts;
}

/** `stored()` once nothing has moved for three seconds: a wake by the clock may still save a state that stands. */
async function storedAtRest(): Promise<unknown> {
  for (let last = await stored(); ;) {
    await new Promise((resolve) => setTimeout(resolve, 3000));
    const now = await stored();
    if (isDeepStrictEqual(now, last)) return now;
    last = now;
  }
}

describe('POST /api/replay', () => {
  test('with 240 s on one of the two that restarted together, it would have started with another one', async () => {
    const before = await storedAtRest();
    const answer = await done(
      ask({ settings: { units: [{ id: 'unit-6', protection: { offDelay: 240 } }] } }),
    );
    expect(Schema.Errors(ReplayAnswer, answer)[1]).toEqual([]);
    expect(answer).toMatchObject({ state: 'done', progress: 1, says: null });
    // 885 s: power is back; 120 + 0.1 × 240 = 144 s after it (handbook 2.1)
    expect(said(answer)).toEqual([
      '4 things would have gone otherwise.',
      expect.stringMatching(/^Panel B, restart sequence at 885: .*Room 6 and Room 8 0\.2 s apart\.$/),
      'Room 6 started at 1026; replayed at 1029, 3 s later, when its power-up delay of 144 s is over.',
      'Room 6 and Room 7 started together at 1026; replayed they don’t.',
      'Room 6 and Room 8 would start together at 1029, which wasn’t seen.',
    ]);
    expect(await stored(), 'nothing stored changes').toEqual(before);
  });

  test('with a panel’s minimum raised, the same starts are judged anew', async () => {
    const answer = await done(ask({ settings: { panels: [{ id: 'panel-a', minimumStartSeparation: 4 }] } }));
    expect(said(answer)).toContain(
      'Panel A, restart sequence at 885: starts kept apart as seen, two starts together replayed.',
    );
    expect(answer.result!.units.flatMap(({ differences }) => differences)).toEqual([]);
  });

  test('with nothing otherwise, nothing would have gone otherwise; a unit without its call says why it isn’t replayed', async () => {
    const answer = await done(ask());
    expect(said(answer)[0]).toBe('Nothing would have gone otherwise.');
    expect(said(answer)).toContain(
      'Room 7 isn’t replayed: its cooling call isn’t wired, so what its control saw isn’t known.',
    );
    expect(answer.result!.units.map(({ seen }) => seen.phases.length > 0)).not.toContain(false);
  });

  test('one that runs or waits is cancelled; while it runs the server answers others', async () => {
    const month = { site: told.building.site, from: at(-20 * 86_400), to: at(3600), units: ['unit-1'] };
    const posted = await Promise.all([1, 2, 3].map(() => api.send('POST', '/api/replay', month)));
    expect(posted.map(({ status }) => status)).toEqual([202, 202, 202]);
    expect((await api.get('/api/health')).status).toBe(200);
    for (const { body } of posted)
      expect((await api.send('DELETE', `/api/replay/${body.id}`)).status).toBe(204);
    for (const { body } of posted) {
      const { status, body: left } = await api.get(`/api/replay/${body.id}`);
      if (status === 200) expect(['running', 'cancelled']).toContain(left.state);
      else expect(status).toBe(404);
    }
    expect((await api.send('DELETE', '/api/replay/nobody')).status).toBe(404);
  });

  test('the waiting line is bounded, and says so', async () => {
    const posted = await Promise.all(
      Array.from({ length: 12 }, () => api.send('POST', '/api/replay', ask())),
    );
    const refused = posted.filter(({ status }) => status !== 202);
    expect(refused.length).toBeGreaterThan(0);
    expect(refused[0]!.body).toMatchObject({ code: 'too-many-requests', status: 429 });
    for (const { status, body } of posted)
      if (status === 202) await api.send('DELETE', `/api/replay/${body.id}`);
  });

  test('a replay that comes to too many rows stops, and one that is told to stops', async () => {
    const { database } = api.store;
    const asking = (): Asking<void> =>
      foldSubject([strand(unitFold, context)], { from: START, until: told.end, now: told.end });
    const history = [{ from: -Infinity, site: told.site }];
    const context = contextOf(history, { kind: 'unit', site: told.site.id, device: 'unit-1' }, { spans: [] });
    const ids = await readDeviceIds(database, told.site.id);
    const stop = new AbortController();
    const answering = { database, ids, signal: stop.signal, rowsBound: 50, came: () => {} };
    await expect(answerAsks(asking(), answering)).rejects.toThrow(TooManyRows);
    stop.abort();
    await expect(answerAsks(asking(), answering)).rejects.toThrow('aborted');
  });
});

describe('what can’t be asked', () => {
  const refusals: [string, object, number, string, string][] = [
    ['another site', { site: 'nowhere' }, 404, 'not-found', ''],
    ['an end before the beginning', { to: at(0) }, 400, 'bad-request', '/to'],
    ['more than a month', { from: at(-40 * 86_400) }, 400, 'bad-request', '/to'],
    ['more unit-days than one replay takes', { from: at(-30 * 86_400) }, 400, 'bad-request', '/units'],
    [
      'a stretch of which nothing was heard',
      { from: at(900_000), to: at(900_100) },
      400,
      'bad-request',
      '/from',
    ],
    ['a unit that isn’t there', { units: ['unit-99'] }, 400, 'bad-request', '/units/0'],
    [
      'settings of a unit that isn’t there',
      { settings: { units: [{ id: 'unit-99', protection: {} }] } },
      422,
      'bad-configuration',
      '/settings/units/0/id',
    ],
    [
      'a setting past its range',
      { settings: { units: [{ id: 'unit-1', protection: { offDelay: 900 } }] } },
      400,
      'bad-request',
      '/settings/units/0/protection/offDelay',
    ],
  ];
  test.each(refusals)('%s', async (_, more, status, code, pointer) => {
    const { status: answered, body } = await api.send('POST', '/api/replay', ask(more));
    expect([answered, body.code]).toEqual([status, code]);
    if (pointer) expect(body.faults.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
  });
});
