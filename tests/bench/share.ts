import { startMosquitto } from '../fixtures/mosquitto.ts';
import { withIngest } from './line.ts';
import type { LineSays } from './line-ingest.ts';
import type { PacedOrder } from './paced.ts';
import { endProgram, heard, startProgram } from './process.ts';
import { heading, note, say } from './report.ts';
import { medianOf } from './rounds.ts';
import { putBenchSite, type Store } from './store.ts';

/**
 * What ingest alone takes of a core at a steady rate: processor time of its process against the time that passed. The baseline
 * is an mqtt.js subscriber that only counts, at the same rate, in the same rounds.
 */
const RATE = 5_000;
const SECONDS = 10;
const UNITS = 500;

export async function benchShare(store: Store, rounds: number): Promise<void> {
  heading(`Processor time at ${RATE} one-sample messages a second, QoS 1`);
  await putBenchSite(store.database, UNITS);
  const shares: Record<string, number[]> = { bare: [], external: [], embedded: [] };
  for (let round = 0; round < rounds; round++) {
    shares['bare']!.push(await bareShare());
    shares['external']!.push(await throughMosquitto(store));
    shares['embedded']!.push(await withIngest(store, null, (ingest, port) => shareOf(ingest, port!)));
  }
  const of = (name: string) => medianOf(shares[name]!);
  for (const [name, what] of [
    ['external', 'ingest, from Mosquitto'],
    ['embedded', 'ingest with the embedded broker'],
  ] as const) {
    say(`  ${(of(name) / of('bare')).toPrecision(2).padStart(7)} ×  ${what}`);
    note(`${percent(of(name))} of a core against mqtt.js subscriber: ${percent(of('bare'))}`);
  }
}

const percent = (share: number): string => `${(share * 100).toFixed(1)} %`;

async function throughMosquitto(store: Store): Promise<number> {
  const broker = await startMosquitto({ autosave_on_changes: 'false' });
  try {
    return await withIngest(store, broker.url, (ingest) => shareOf(ingest, broker.port));
  } finally {
    await broker.stop();
  }
}

async function bareShare(): Promise<number> {
  const broker = await startMosquitto({ autosave_on_changes: 'false' });
  const subscriber = startProgram('bare-subscriber.ts', { port: broker.port, messages: RATE * SECONDS });
  try {
    await heard(subscriber);
    return await shareOf(subscriber, broker.port);
  } finally {
    await endProgram(subscriber);
    await broker.stop();
  }
}

/** Of a core, while messages come: the middle of the stretch, without start and end. */
async function shareOf(program: ReturnType<typeof startProgram>, port: number): Promise<number> {
  const order: PacedOrder = { port, rate: RATE, units: UNITS, seconds: SECONDS };
  const publisher = startProgram('paced.ts', order);
  try {
    await heard(publisher);
    publisher.send('go');
    await later(2_000);
    const from = await usage(program);
    await later((SECONDS - 4) * 1_000);
    const to = await usage(program);
    await heard(publisher);
    return (to.cpu - from.cpu) / (to.at - from.at);
  } finally {
    await endProgram(publisher);
  }
}

async function usage(program: ReturnType<typeof startProgram>): Promise<{ cpu: number; at: number }> {
  for (;;) {
    const said = heard<LineSays>(program);
    program.send('usage');
    const answer = await said;
    if (answer.kind === 'usage') return { cpu: answer.microseconds, at: performance.now() * 1_000 };
  }
}

const later = (ms: number) => new Promise<void>((done) => setTimeout(done, ms));
