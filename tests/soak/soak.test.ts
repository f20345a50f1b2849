import { readFile } from 'node:fs/promises';
import { setTimeout as delay } from 'node:timers/promises';
import { isDeepStrictEqual } from 'node:util';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { caughtUp } from '../fixtures/follow-store.ts';
import { SITE, startWholeLine, type WholeLine, type Worker } from '../fixtures/whole-line.ts';
import { chooserOf, type Chooser } from './chooser.ts';

/**
 * Two ingests, two servers, a broker and a database under random faults for minutes: in the end every message that the broker
 * acknowledged is stored once, the events are those of the record folded once, nothing certain was taken back, and the
 * processes that lived all along are no larger than when they had warmed up.
 */
const MINUTES = Number(process.env['SOAK_MINUTES'] ?? 15);
const SEED = Number(process.env['SOAK_SEED'] ?? 1);
const EACH_SECOND = 40;
/** Growth of a process after its first third that counts as flat, MB a minute. */
const FLAT = 3;

let line: WholeLine;
beforeAll(async () => {
  line = await startWholeLine(MINUTES * 60 * EACH_SECOND * 2);
});
afterAll(() => line.stop());

type Fault = (choose: Chooser) => Promise<void>;

const away =
  (worker: Worker): Fault =>
  async (choose) => {
    await worker.kill();
    await delay(choose.between(1_000, 15_000));
    await worker.start();
  };

/**
 * What is killed is the second of each: the first live on, so that their memory can be looked at. The broker isn't: Mosquitto
 * 2.0.11 forgets shared subscriptions when it starts again, and drops what it acknowledges until they are made anew.
 */
const FAULTS: Readonly<Record<string, Fault>> = {
  'ingest killed': (choose) => away(line.ingests[1])(choose),
  'server killed': (choose) => away(line.servers[1])(choose),
  'database killed and started again': () => line.postgres.restart(),
  'database away': async (choose) => {
    line.postgres.proxy.shut();
    await delay(choose.between(1_000, 12_000));
    line.postgres.proxy.open();
  },
  'slow disk': async (choose) => {
    line.postgres.proxy.delayMs = choose.between(20, 150);
    await delay(choose.between(3_000, 12_000));
    line.postgres.proxy.delayMs = 0;
  },
};

const startedAt = performance.now();
const minute = (): number => (performance.now() - startedAt) / 60_000;
const say = (text: string) => console.log(`${minute().toFixed(2).padStart(6)} min  ${text}`);

test(`${MINUTES} minutes under random faults, seed ${SEED}`, async () => {
  console.log(`npm run soak -- --minutes ${MINUTES} --seed ${SEED}`);
  const choose = chooserOf(SEED);
  const memory = new Memory([line.ingests[0], line.servers[0]]);
  const until = performance.now() + MINUTES * 60_000;
  const isOver = () => performance.now() >= until;
  const back: string[] = [];
  const counts = new Map<string, number>();

  const sending = (async () => {
    while (!isOver()) await Promise.all([line.send(EACH_SECOND).done, delay(1_000)]);
  })();
  const looking = (async () => {
    while (!isOver()) {
      await delay(5_000);
      back.push(...(await line.lookForTakenBack().catch(() => [])).map(({ id, kind }) => `${kind} ${id}`));
      await memory.look();
    }
  })();
  const telling = (async () => {
    while (!isOver()) {
      await delay(30_000);
      const stored = await line.readStored().catch(() => null);
      say(`${line.sent} acknowledged, ${stored ?? 'not known how many'} stored, ${memory.say()}`);
    }
  })();
  while (!isOver()) {
    await delay(choose.between(4_000, 15_000));
    if (isOver()) break;
    const name = choose.one(Object.keys(FAULTS));
    say(name);
    counts.set(name, (counts.get(name) ?? 0) + 1);
    await FAULTS[name]!(choose);
  }
  await Promise.all([sending, looking, telling]);
  say('no more faults: what is left comes in');

  const deadline = performance.now() + 300_000;
  while ((await line.readStored()) < line.sent && performance.now() < deadline) await delay(200);
  const stored = await line.readStored();
  await line.postgres.ask((database) => caughtUp(database, SITE, 300_000));
  let { stand, expected } = await line.compareEvents();
  // the last lives count once both ingests have said so
  while (!isDeepStrictEqual(stand, expected) && performance.now() < deadline) {
    await delay(500);
    ({ stand, expected } = await line.compareEvents());
  }
  back.push(...(await line.lookForTakenBack()).map(({ id, kind }) => `${kind} ${id}`));
  say(`faults: ${[...counts].map(([name, count]) => `${name} ${count}`).join(', ')}`);
  say(`${line.sent} messages acknowledged, ${stored} samples stored, ${stand.length} events`);
  say(`taken back: ${back.length}; memory: ${memory.slopes()}`);
  expect(stored).toBe(line.sent);
  expect(stand).toEqual(expected);
  expect(back).toEqual([]);
  for (const growth of memory.growths()) expect(growth).toBeLessThan(FLAT);
});

/** Resident megabytes of processes that live all along. */
class Memory {
  readonly #of: readonly { readonly worker: Worker; readonly seen: { minute: number; mb: number }[] }[];

  constructor(workers: readonly Worker[]) {
    this.#of = workers.map((worker) => ({ worker, seen: [] }));
  }

  async look(): Promise<void> {
    for (const { worker, seen } of this.#of) {
      const status = await readFile(`/proc/${worker.pid}/status`, 'utf8');
      seen.push({ minute: minute(), mb: Number(/^VmRSS:\s+(\d+)/m.exec(status)![1]) / 1024 });
    }
  }

  say(): string {
    return this.#of
      .map(({ worker, seen }) => `${worker.name} ${Math.round(seen.at(-1)?.mb ?? 0)} MB`)
      .join(', ');
  }

  /** MB a minute after the first third, by least squares */
  growths(): number[] {
    return this.#of.map(({ seen }) => {
      const late = seen.slice(Math.ceil(seen.length / 3));
      const mean = (pick: (one: (typeof late)[number]) => number) =>
        late.reduce((sum, one) => sum + pick(one), 0) / late.length;
      const [x, y] = [mean((one) => one.minute), mean(({ mb }) => mb)];
      const over = late.reduce((sum, one) => sum + (one.minute - x) * (one.mb - y), 0);
      return over / late.reduce((sum, one) => sum + (one.minute - x) ** 2, 0);
    });
  }

  slopes(): string {
    const growths = this.growths();
    return this.#of
      .map(({ worker, seen }, i) => {
        const most = Math.max(...seen.map(({ mb }) => mb));
        return `${worker.name} ${growths[i]!.toFixed(2)} MB a minute after the first third, most ${Math.round(most)} MB`;
      })
      .join('; ');
  }
}
