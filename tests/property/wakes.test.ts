import fc from 'fast-check';
import { expect, it } from 'vitest';
import type { EventDraft } from '../../shared/inference/event.ts';
import { LittleSite } from '../fixtures/little-site.ts';
import { comparable } from '../fixtures/little-store.ts';
import { smallSite, watchedBy } from '../fixtures/small-sites.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * Nobody sleeps through what matters: with only those subjects folded that have work, or are woken by what their last fold
 * waits for (time, a gateway's life, its members), the events are those of folding every subject every time.
 */
const CASES = casesOf('PROPERTY_RUNS', 100);
const again = process.env['WAKES_SEED']
  ? { seed: Number(process.env['WAKES_SEED']), path: process.env['WAKES_PATH'] ?? '', endOnFailure: true }
  : {};

const how = fc.record({
  sizes: fc.array(fc.oneof(fc.integer({ min: 1, max: 3 }), fc.integer({ min: 20, max: 150 })), {
    minLength: 4,
    maxLength: 10,
  }),
  /** messages by which a gateway's are late, for each gateway */
  late: fc.dictionary(fc.constantFrom('east', 'west'), fc.nat(60)),
});

/**
 * Without silences of points that last: that one is its point's and not its gateway's is found when the gateway has lived on
 * for three periods, and told with the next that is heard of the subject, not at the very instant.
 */
const told = (site: LittleSite): EventDraft[] =>
  site.events().filter(({ cause, end }) => cause !== 'point-silent' || end !== null);

it(`nobody sleeps through what matters (${CASES} cases)`, { timeout: 20 * 60_000 }, () => {
  fc.assert(
    fc.property(smallSite, how, ({ history, sent, watch }, { sizes, late }) => {
      const [woken, all] = [new LittleSite(history), new LittleSite(history)];
      const arriving = sent
        .map((message, i) => ({ message, place: i + (late[message.gateway] ?? 0) }))
        .sort((a, b) => a.place - b.place)
        .map(({ message }) => message);
      for (const site of [woken, all]) site.stepAll(); // before anything was heard
      let newest = -Infinity;
      for (let i = 0, n = 0; i < arriving.length; n++) {
        const portion = arriving.slice(i, (i += sizes[n % sizes.length]!));
        newest = portion.reduce((latest, { t }) => Math.max(latest, t), newest);
        for (const site of [woken, all]) {
          site.commit(portion.flatMap(({ rows }) => rows));
          site.watchThrough(watchedBy(watch, newest));
        }
        woken.stepWoken();
        all.stepAll();
        expect(comparable(told(woken))).toEqual(comparable(told(all)));
      }
    }),
    { numRuns: CASES, endOnFailure: true, ...again },
  );
});
