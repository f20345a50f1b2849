import { spawn, type ChildProcess } from 'node:child_process';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Page } from 'playwright-core';
import { io, type Socket } from 'socket.io-client';
import { parseInstant } from '../../shared/base/instant.ts';
import type { LiveFrames, LiveRequests } from '../../shared/wire/frames.ts';
import { endBrowser, LOOKS, openBrowser } from '../browser/chromium.ts';
import { freePort } from '../fixtures/mosquitto.ts';
import type { PacedOrder } from './paced.ts';
import { endProgram, heard, startProgram } from './process.ts';
import { heading, note, say } from './report.ts';
import { SITE as LOADED, siteDocument } from './unit-record.ts';

/**
 * From a contact that moves to what people see: the line of its unit on the board, in Chromium, and the event, at a client of
 * the socket. `npm start` in a process of its own, everything on this machine; first with nothing else to do, then with other
 * units sending 5,000 samples a second. The baseline is a bare message from publisher to subscriber through the same broker.
 */
const SITE = 'latency';
const MOVES = 150;
/** the gateway says so often that it lives */
const BEAT_MS = 100;
const LOAD = 5_000;
const LOAD_UNITS = 500;
const PATIENCE_MS = 60_000;

const DOCUMENT = {
  name: 'Latency',
  timeZone: 'UTC',
  gateways: [{ id: 'gateway' }],
  panels: [{ id: 'panel-a' }],
  units: [
    {
      id: 'unit-1',
      name: 'latency unit',
      panel: 'panel-a',
      points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }],
    },
  ],
};

type Took = Record<'bare message' | 'event' | 'screen', number[]>;

export async function benchLatency(): Promise<void> {
  heading(`From a contact to event and screen: ${MOVES} moves each, a sign of life each ${BEAT_MS} ms`);
  const line = await startLine();
  try {
    await put(line.url, SITE, DOCUMENT);
    await put(line.url, LOADED, siteDocument(LOAD_UNITS));
    tell('idle', await measure(line));
    const order: PacedOrder = { port: line.mqttPort, rate: LOAD, units: LOAD_UNITS, seconds: null };
    const load = startProgram('paced.ts', order);
    await heard(load);
    load.send('go');
    await later(10_000);
    tell(`at ${LOAD} samples a second besides`, await measure(line));
    await endProgram(load);
  } finally {
    await endBrowser();
    await line.stop();
  }
}

interface Line {
  readonly url: string;
  readonly mqttPort: number;
  stop(): Promise<void>;
}

async function startLine(): Promise<Line> {
  const folder = await mkdtemp(join(tmpdir(), 'holdoff-bench-'));
  await chmod(folder, 0o755); // started by root, PostgreSQL runs as another user
  const [port, mqttPort] = [await freePort(), await freePort()];
  const url = `http://127.0.0.1:${port}`;
  const root = join(import.meta.dirname, '..', '..');
  const given = { DATA_DIR: folder, PORT: String(port), MQTT_PORT: String(mqttPort), DEMO: '0' };
  const server = spawn(process.execPath, ['--import', 'tsx', 'server/main.ts'], {
    cwd: root,
    env: { PATH: process.env['PATH'], LOG_LEVEL: 'error', ...given },
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  await answers(`${url}/api/ready`, server);
  return {
    url,
    mqttPort,
    stop: async () => {
      const gone = new Promise((done) => server.once('exit', done));
      server.kill('SIGTERM');
      await gone;
      await rm(folder, { recursive: true, force: true });
    },
  };
}

async function answers(url: string, server: ChildProcess): Promise<void> {
  for (;;) {
    const ready = await fetch(url).then(
      ({ ok }) => ok,
      () => false,
    );
    if (ready) return;
    if (server.exitCode !== null) throw new Error(`the line ended with ${server.exitCode}`);
    await later(200);
  }
}

async function put(url: string, site: string, document: object): Promise<void> {
  const answer = await fetch(`${url}/api/sites/${site}?from=always`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(document),
  });
  if (!answer.ok) throw new Error(`${answer.status}: ${await answer.text()}`);
}

async function measure({ url, mqttPort }: Line): Promise<Took> {
  const mqttUrl = `mqtt://127.0.0.1:${mqttPort}`;
  const [gateway, other] = [await connectAsync(mqttUrl), await connectAsync(mqttUrl)];
  const events = await listenToEvents(url);
  const beating = setInterval(() => void beat(gateway), BEAT_MS);
  const browser = await openBrowser(LOOKS[0]!);
  const page = await browser.newPage();
  const took: Took = { 'bare message': [], event: [], screen: [] };
  try {
    await move(gateway, Date.now(), 0);
    await later(1_000);
    await watchBoard(page, url);
    for (let i = 0; i < MOVES; i++) {
      took['bare message'].push(await bareMessage(gateway, other));
      const at = Date.now();
      const came = events.next(at);
      await move(gateway, at, i % 2 === 0 ? 1 : 0);
      const [event, screen] = await Promise.all([came, changedAt(page, i + 1)]);
      took.event.push(event - at);
      took.screen.push(screen - at);
      await later(400 + (i % 7) * 30); // apart by more than a time's uncertainty
    }
  } finally {
    clearInterval(beating);
    events.close();
    await browser.close();
    await Promise.all([gateway.endAsync(), other.endAsync()]);
  }
  return took;
}

/** A run has begun for certain when its gateway was heard of past the contact's debounce. */
const beat = (gateway: MqttClient) =>
  gateway.publishAsync(`holdoff/${SITE}/gateway/heartbeat`, JSON.stringify({ t: Date.now() }), { qos: 1 });

/** Call and output together, on or off. */
async function move(gateway: MqttClient, at: number, value: 0 | 1): Promise<void> {
  const message = { t: at, signals: { 'cooling-call': value, 'compressor-output': value } };
  await gateway.publishAsync(`holdoff/${SITE}/unit-1`, JSON.stringify(message), { qos: 1 });
}

/** Milliseconds from one client to another, on a topic of nobody's. */
async function bareMessage(from: MqttClient, to: MqttClient): Promise<number> {
  if (to.listenerCount('message') === 0) await to.subscribeAsync('bench/bare', { qos: 0 });
  const came = new Promise<void>((done) => to.once('message', () => done()));
  to.on('message', () => {});
  const started = performance.now();
  from.publish('bench/bare', '1', { qos: 0 });
  await came;
  to.removeAllListeners('message');
  to.on('message', () => {});
  return performance.now() - started;
}

/** When the event of a run came whose start or end may have been at an instant, ms since 1970. */
async function listenToEvents(url: string) {
  const socket: Socket<LiveFrames, LiveRequests> = io(url, { path: '/live', transports: ['websocket'] });
  let [sought, found] = [Infinity, (_: number) => {}];
  socket.on('event', ({ events }) => {
    const edges = events
      .filter(({ kind }) => kind === 'compressor-run')
      .flatMap(({ start, end }) => [start, ...(end ? [end] : [])]);
    if (edges.some(({ earliest, latest }) => msOf(earliest) <= sought && sought <= msOf(latest)))
      found(Date.now());
  });
  await new Promise<void>((joined) => socket.emit('join', `site:${SITE}`, () => joined()));
  return {
    /** before the contact moves */
    next: (at: number) => inTime('event', new Promise<number>((done) => ([sought, found] = [at, done]))),
    close: () => socket.close(),
  };
}

const msOf = (iso: string | null): number => (parseInstant(iso ?? '') ?? NaN) / 1_000;

/** Notes in the page itself when the unit's line turns to "Running" and away from it. */
const WATCH = `(() => {
  const turns = (window.turns = []);
  let was = false;
  const look = () => {
    const line = document.querySelector('li.unit');
    const is = line !== null && line.textContent.includes('Running');
    if (is !== was) turns.push(Date.now());
    was = is;
  };
  new MutationObserver(look).observe(document.querySelector('main'), { subtree: true, childList: true, characterData: true });
})()`;

async function watchBoard(page: Page, url: string): Promise<void> {
  await page.goto(`${url}/?q=latency`);
  await page.locator('li.unit').first().waitFor();
  await page.evaluate(WATCH);
}

/** When the page noted this turn; asked for again and again, as the page lets no script of ours wait in it. */
async function changedAt(page: Page, turn: number): Promise<number> {
  const until = performance.now() + PATIENCE_MS;
  for (;;) {
    const at = await page.evaluate<number | null>(`window.turns[${turn - 1}] ?? null`);
    if (at !== null) return at;
    if (performance.now() > until) throw new Error('no change on the screen within a minute');
    await later(20);
  }
}

async function inTime<T>(what: string, promised: Promise<T>): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, fail) => {
    timer = setTimeout(() => fail(new Error(`no ${what} within a minute`)), PATIENCE_MS);
  });
  try {
    return await Promise.race([promised, late]);
  } finally {
    clearTimeout(timer);
  }
}

function tell(how: string, took: Took): void {
  say(`  ${how}`);
  const bare = percentile(took['bare message'], 0.5);
  for (const what of ['event', 'screen'] as const) {
    const [p50, p95, p99] = [0.5, 0.95, 0.99].map((share) => percentile(took[what], share));
    say(
      `  ${(p50! / bare).toFixed(0).padStart(7)} ×  contact to ${what}, against a bare message of ${bare.toFixed(1)} ms`,
    );
    note(`p50 ${p50!.toFixed(0)} ms, p95 ${p95!.toFixed(0)} ms, p99 ${p99!.toFixed(0)} ms`);
  }
}

function percentile(values: readonly number[], share: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.ceil(sorted.length * share) - 1)]!;
}

const later = (ms: number) => new Promise<void>((done) => setTimeout(done, ms));
