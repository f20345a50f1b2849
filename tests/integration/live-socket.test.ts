import { io, type Socket } from 'socket.io-client';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import Schema from 'typebox/schema';
import { seconds } from '../../shared/base/instant.ts';
import {
  EventFrame,
  SamplesFrame,
  StatusFrame,
  type JoinAnswer,
  type LiveFrames,
  type LiveRequests,
} from '../../shared/wire/frames.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';

const DOCUMENT = {
  name: 'Rowan Street',
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a' }],
  units: [
    { id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }] },
  ],
};

type Client = Socket<LiveFrames, LiveRequests>;
let api: ApiServer;
let clients: Client[] = [];
let clock = seconds(1_700_000_000);

beforeAll(async () => {
  api = await startApi();
  await putDocument(api.store.database, 'rowan', DOCUMENT);
  await caughtUp(api.store.database, 'rowan');
  await api.get('/api/sites/rowan'); // read once, so that its room is known
});
afterEach(() => {
  for (const client of clients) client.close();
  clients = [];
});
afterAll(() => api.stop());

async function connect(auth: Record<string, string> = {}): Promise<Client> {
  const client: Client = io(api.server.url, {
    path: '/live',
    transports: ['websocket'],
    reconnection: false,
    auth,
  });
  clients.push(client);
  await new Promise<void>((resolve, reject) => {
    client.on('connect', () => resolve());
    client.on('connect_error', reject);
  });
  return client;
}

const join = (client: Client, room: string) =>
  new Promise<JoinAnswer>((resolve) => client.emit('join', room, resolve));

const next = <F extends keyof LiveFrames>(
  client: Client,
  name: F,
  fits: (frame: Parameters<LiveFrames[F]>[0]) => boolean,
) =>
  new Promise<Parameters<LiveFrames[F]>[0]>((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error(`no ${name} frame in a minute`)), 60_000);
    client.on(name, ((frame: Parameters<LiveFrames[F]>[0]) => {
      if (!fits(frame)) return;
      clearTimeout(timer);
      resolve(frame);
    }) as never);
  });

const output = (value: number) => {
  clock += seconds(600);
  const rows = [
    { key: 'unit-1/cooling-call', t: clock - seconds(1), value },
    { key: 'unit-1/compressor-output', t: clock, value },
  ];
  return commit(api.store.database, 'rowan', [{ gateway: 'gateway', rows }]);
};

const errorsOf = (schema: object, value: unknown) => Schema.Errors(schema, value)[1];

test('a change that is committed reaches the page: samples, status and event', async () => {
  const client = await connect();
  const joined = await join(client, 'site:rowan');
  if (!joined.ok) throw new Error(joined.says);
  const [samples, status, event] = [
    next(client, 'samples', () => true),
    next(client, 'status', ({ sites }) => sites[0]?.units[0]?.standing?.phase === 'running'),
    next(client, 'event', ({ events }) => events.some(({ kind }) => kind === 'compressor-run')),
  ];
  await output(0);
  await output(1);
  const frames = [await samples, await status, await event] as const;
  expect(errorsOf(SamplesFrame, frames[0])).toEqual([]);
  expect(errorsOf(StatusFrame, frames[1])).toEqual([]);
  expect(errorsOf(EventFrame, frames[2])).toEqual([]);
  expect(frames[0].points.map(({ signal }) => signal).sort()).toEqual(['compressor-output', 'cooling-call']);
  for (const frame of frames) expect(frame.epoch).toBe(joined.epoch);
});

test('frames follow on from one another, and from the answer to the join', async () => {
  const client = await connect();
  const joined = await join(client, 'site:rowan');
  if (!joined.ok) throw new Error(joined.says);
  const places: { after: number; revision: number }[] = [];
  for (const name of ['status', 'samples', 'event'] as const)
    client.on(name, ((frame: StatusFrame) => places.push(frame)) as never);
  const done = next(client, 'status', ({ sites }) => sites[0]?.units[0]?.standing?.phase === 'running');
  for (const value of [0, 1, 0, 1]) await output(value);
  await done;
  const first = { after: joined.revision, revision: joined.revision };
  const chain = [first, ...places];
  expect(places.length).toBeGreaterThan(0);
  for (let i = 1; i < chain.length; i++) expect(chain[i]!.after).toBe(chain[i - 1]!.revision);
  const told = places.at(-1)!.revision; // before it is asked: more may come meanwhile
  const { body } = await api.get('/api/sites/rowan/status');
  expect(body.epoch).toBe(joined.epoch);
  expect(body.revision).toBeGreaterThanOrEqual(told);
});

test('the board is told of every site, without samples', async () => {
  const client = await connect();
  expect((await join(client, 'board')).ok).toBe(true);
  let samples = 0;
  client.on('samples', () => samples++);
  const status = next(client, 'status', ({ sites }) => sites.some(({ units }) => units.length > 0));
  await output(0);
  expect((await status).sites[0]!.id).toBe('rowan');
  expect(samples).toBe(0);
});

test('another configuration makes a gap, so that the page fetches again', async () => {
  const client = await connect();
  const joined = await join(client, 'site:rowan');
  if (!joined.ok) throw new Error(joined.says);
  const gap = next(client, 'status', ({ after, revision }) => after > revision);
  await api.send('PUT', '/api/sites/rowan', { ...DOCUMENT, name: 'Rowan Street School' });
  await gap;
});

test('a room that isn’t, is refused in words', async () => {
  const client = await connect();
  expect(await join(client, 'site:nowhere')).toEqual({ ok: false, says: 'There is no site "nowhere".' });
  expect((await join(client, 'kitchen')).ok).toBe(false);
});

test('from the commit to the page it takes a moment: the middle of 20 is printed', async () => {
  const client = await connect();
  await join(client, 'site:rowan');
  const took: number[] = [];
  for (let i = 0; i < 20; i++) {
    const seen = next(
      client,
      'status',
      ({ sites }) =>
        !!sites[0]?.units[0] && (sites[0].units[0].standing?.phase === 'running') === (i % 2 === 0),
    );
    const started = performance.now();
    await output(i % 2 === 0 ? 1 : 0);
    await seen;
    took.push(performance.now() - started);
    client.off('status');
  }
  took.sort((a, b) => a - b);
  console.log(`commit to page: median ${took[10]!.toFixed(0)} ms, 95 % ${took[18]!.toFixed(0)} ms`);
  expect(took[18]).toBeLessThan(1000);
});
