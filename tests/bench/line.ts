import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { statement } from '../../db/pool.ts';
import { startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { bareCopy, PSQL_IS_MISSING, psqlCopy } from './bare-copy.ts';
import { bareInsert } from './bare-insert.ts';
import type { LineOrder, LineSays } from './line-ingest.ts';
import { samplesOf, UNITS, type Load } from './messages.ts';
import { endProgram, heard, startProgram } from './process.ts';
import { greatestRate, publish } from './publish.ts';
import { heading, note, ratio, thousands } from './report.ts';
import { interleaved, medianOf, type Contender } from './rounds.ts';
import { putBenchSite, type Store } from './store.ts';

/**
 * The line: published → committed and acknowledged, through Mosquitto and through the embedded broker, against a bare
 * mqtt.js subscriber, against aedes alone, and against bare writes of as many rows: INSERT, binary COPY, psql's \copy. Each run has fresh processes and a
 * fresh broker; the publisher has a process of its own. Mosquitto saves each second here and not at every change, as it
 * ships (mosquitto.conf): otherwise its disk would be what is measured.
 */
const MESSAGES = { 1: 60_000, 60: 6_000 } as const;
const INSERTED = 200_000;

/** loads never share a run's number: every sample is a new row */
let runs = 0;

export async function benchLine(store: Store, rounds: number): Promise<void> {
  await putBenchSite(store.database, UNITS);
  for (const samplesPerMessage of [1, 60] as const) await benchSize(store, rounds, samplesPerMessage);
}

async function benchSize(store: Store, rounds: number, samplesPerMessage: 1 | 60): Promise<void> {
  heading(`Committed and acknowledged samples: ${samplesPerMessage} in each message, QoS 1`);
  const load = (): Load => ({ messages: MESSAGES[samplesPerMessage], samplesPerMessage, run: runs++ });
  const spare = new Spare();
  const f = await interleaved(rounds, contenders(store, load, spare));
  for (const line of ['through Mosquitto', 'through the embedded broker'] as const) {
    const alone = line === 'through Mosquitto' ? 'mqtt.js subscriber' : 'aedes alone';
    ratio(`the line ${line}`, f[line]!, f[alone]!, 'samples/s');
    if (alone === 'aedes alone') ratio(`the line ${line}`, f[line]!, f['mqtt.js subscriber']!, 'samples/s');
    for (const write of BARE_WRITES) if (f[write]) ratio(`the line ${line}`, f[line]!, f[write], 'samples/s');
  }
  const greatest = await greatestRate(load());
  note(
    `publisher alone: ${thousands(greatest)} messages/s, ${thousands(greatest * samplesPerMessage)} samples/s`,
  );
  note(`it waited for the other side ${spare.words()} of the time`);
}

const contenders = (store: Store, load: () => Load, spare: Spare): Contender[] => [
  { name: 'mqtt.js subscriber', run: () => withMosquitto((broker) => bareSubscriber(broker, load(), spare)) },
  {
    name: 'through Mosquitto',
    run: () => withMosquitto((broker) => lineThroughMosquitto(store, broker, load(), spare)),
  },
  { name: 'aedes alone', run: () => aedesAlone(load(), spare) },
  { name: 'through the embedded broker', run: () => lineEmbedded(store, load(), spare) },
  { name: 'INSERT … unnest', run: () => bareInsert(store.database, INSERTED) },
  { name: 'COPY', run: () => bareCopy(store, INSERTED) },
  ...(PSQL_IS_MISSING ? [] : [{ name: 'psql \\copy', run: () => psqlCopy(store, INSERTED) }]),
];
const BARE_WRITES = ['INSERT … unnest', 'COPY', 'psql \\copy'];

/** For which share of each run the publisher had to wait: what it could have sent besides. */
class Spare {
  readonly #shares = new Map<string, number[]>();
  note(name: string, share: number): void {
    this.#shares.set(name, [...(this.#shares.get(name) ?? []), share]);
  }
  words(): string {
    return [...this.#shares].map(([name, all]) => `${name} ${Math.round(medianOf(all) * 100)} %`).join(', ');
  }
}

async function withMosquitto(work: (broker: Mosquitto) => Promise<number>): Promise<number> {
  const broker = await startMosquitto({ autosave_on_changes: 'false' });
  try {
    return await work(broker);
  } finally {
    await broker.stop();
  }
}

async function bareSubscriber(broker: Mosquitto, load: Load, spare: Spare): Promise<number> {
  const subscriber = startProgram('bare-subscriber.ts', { port: broker.port, messages: load.messages });
  await heard(subscriber);
  const all = heard(subscriber);
  let started = 0;
  const { waitingShare } = await publish(broker.port, load, () => (started = performance.now()));
  await all;
  spare.note('mqtt.js subscriber', waitingShare);
  const rate = (samplesOf(load) * 1000) / (performance.now() - started);
  await endProgram(subscriber);
  return rate;
}

async function lineThroughMosquitto(
  store: Store,
  broker: Mosquitto,
  load: Load,
  spare: Spare,
): Promise<number> {
  return withIngest(store, broker.url, async (ingest) => {
    const all = heard<LineSays>(ingest);
    ingest.send(samplesOf(load));
    let started = 0;
    const { waitingShare } = await publish(broker.port, load, () => (started = performance.now()));
    const said = await all;
    const rate = (samplesOf(load) * 1000) / (performance.now() - started);
    spare.note('through Mosquitto', waitingShare);
    checkAll(said, load);
    return rate;
  });
}

async function aedesAlone(load: Load, spare: Spare): Promise<number> {
  const broker = startProgram('bare-broker.ts');
  const { port } = await heard<{ port: number }>(broker);
  const { seconds, waitingShare } = await publish(port, load);
  await endProgram(broker);
  spare.note('aedes alone', waitingShare);
  return samplesOf(load) / seconds;
}

/** The publisher itself is told: its last acknowledgement says that everything is committed. */
async function lineEmbedded(store: Store, load: Load, spare: Spare): Promise<number> {
  return withIngest(store, null, async (ingest, port) => {
    const all = heard<LineSays>(ingest);
    ingest.send(samplesOf(load));
    const { seconds, waitingShare } = await publish(port!, load);
    spare.note('through the embedded broker', waitingShare);
    checkAll(await all, load);
    return samplesOf(load) / seconds;
  });
}

function checkAll(said: LineSays, load: Load): void {
  if (said.kind === 'all' && said.changed === samplesOf(load)) return;
  throw new Error(`of ${samplesOf(load)} samples ${JSON.stringify(said)} became rows`);
}

export async function withIngest(
  store: Store,
  mqttUrl: string | null,
  work: (ingest: ReturnType<typeof startProgram>, port: number | null) => Promise<number>,
): Promise<number> {
  const folder = await mkdtemp(join(tmpdir(), 'holdoff-bench-'));
  const order: LineOrder = { databaseUrl: store.url, mqttUrl, folder };
  const ingest = startProgram('line-ingest.ts', order);
  try {
    const ready = await heard<LineSays>(ingest);
    return await work(ingest, ready.kind === 'ready' ? ready.port : null);
  } finally {
    await endProgram(ingest);
    await rm(folder, { recursive: true, force: true });
    // what a server would take away: nobody follows here
    await store.database.run(statement('', 'truncate work_items'));
  }
}
