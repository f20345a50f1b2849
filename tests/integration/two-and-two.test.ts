import { setTimeout as delay } from 'node:timers/promises';
import { isDeepStrictEqual } from 'node:util';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { LOOKS, openBrowser } from '../browser/chromium.ts';
import { caughtUp } from '../fixtures/follow-store.ts';
import { MOSQUITTO_IS_MISSING } from '../fixtures/mosquitto.ts';
import { SITE, startWholeLine, type WholeLine } from '../fixtures/whole-line.ts';
import { until } from '../fixtures/until.ts';

/**
 * Two ingests and two servers (architecture 6); one of each is killed at the same moment and left away for AWAY_SECONDS (60
 * where it is asked for; a few in an ordinary run), while messages go on. Nothing certain is taken back, nothing is lost,
 * the events are those of the record folded once, and a page that was open at the killed server goes on by itself.
 */
const AWAY_SECONDS = Number(process.env['AWAY_SECONDS'] ?? 3);
const BEFORE = 1_210;
const EACH_SECOND = 60;
const AFTER = 290;
const MESSAGES = BEFORE + EACH_SECOND * AWAY_SECONDS + AFTER;

let line: WholeLine;
let page: Page;

/** What the page says first: runs it, why, is anyone needed. */
const answerOf = async (of: Page): Promise<string> =>
  (await of.locator('main').innerText()).replace(/\s+/g, ' ').split(' in Quiet school')[0]!;
/** Leaves a mark in it that doesn't outlive a reload. */
const mark = (of: Page) => of.evaluate(() => void Object.assign(globalThis, { keptOpen: true }));
const isMarked = (of: Page) => of.evaluate(() => 'keptOpen' in globalThis);

describe.skipIf(MOSQUITTO_IS_MISSING)('two ingests and two servers', () => {
  beforeAll(async () => {
    line = await startWholeLine(MESSAGES);
  });
  afterAll(async () => {
    await page?.context().close();
    await line?.stop();
  });

  test(`one of each is killed and left away for ${AWAY_SECONDS} s`, async () => {
    const { ingests, servers } = line;
    await line.send(BEFORE).done;
    await until(line.readStored, (stored) => stored === BEFORE, 120);
    await line.postgres.ask((database) => caughtUp(database, SITE));
    const context = await openBrowser(LOOKS[0]!);
    page = await context.newPage();
    const address = `sites/${SITE}/units/unit-1`;
    await page.goto(`${servers[1].url}${address}`);
    await page.locator('main').waitFor();
    await mark(page);
    await expect.poll(() => answerOf(page)).toMatch(/^unit-1: (?!Not known)/);
    const before = await answerOf(page);
    expect(await line.lookForTakenBack()).toEqual([]);

    const under = line.send(60);
    await under.reaches(10);
    await Promise.all([ingests[1].kill(), servers[1].kill()]);
    await under.done;
    for (let second = 1; second < AWAY_SECONDS; second++) {
      await Promise.all([line.send(EACH_SECOND).done, delay(1_000)]); // what is tested is that so much time passes
      expect(await line.lookForTakenBack()).toEqual([]);
    }
    const waiting = line.sent - (await line.readStored());
    console.log(
      `${line.sent} messages acknowledged by the broker, ${waiting} wait for the ingest that is away`,
    );
    if (AWAY_SECONDS > 20) {
      const ready = (await (await fetch(`${servers[0].url}api/ready`)).json()) as {
        parts: { name: string; says: string }[];
      };
      expect(ready.parts.find(({ name }) => name === 'ingests')?.says).toContain('line-2 is away');
    }

    await Promise.all([ingests[1].start(), servers[1].start()]);
    await line.send(AFTER).done;
    await until(line.readStored, (stored) => stored === line.sent, 120);
    const gone = await until(
      async () => {
        const [back, { stand, expected }] = [await line.lookForTakenBack(), await line.compareEvents()];
        return { back, isSame: isDeepStrictEqual(stand, expected) };
      },
      ({ back, isSame }) => isSame || back.length > 0,
      120,
    );
    expect(gone.back).toEqual([]);
    await line.postgres.ask((database) => caughtUp(database, SITE));
    const { stand, expected } = await line.compareEvents();
    expect(stand).toEqual(expected);
    console.log(`${line.sent} messages, ${await line.readStored()} samples stored, ${stand.length} events`);

    const fresh = await context.newPage();
    await fresh.goto(`${servers[0].url}${address}`);
    await fresh.locator('main').waitFor();
    await expect.poll(async () => (await answerOf(page)) === (await answerOf(fresh))).toBe(true);
    expect(await answerOf(page)).not.toBe(before);
    expect(await isMarked(page)).toBe(true);
    console.log(`the page that was open said “${before}”, and by itself “${await answerOf(page)}”`);
  });

  test('all of them end in order when they are asked to', async () => {
    const codes = await Promise.all([...line.ingests, ...line.servers].map((one) => one.stop()));
    expect(codes).toEqual([0, 0, 0, 0]);
  });
});
