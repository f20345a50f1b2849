import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { Site, SiteHistory } from '../../shared/telemetry/site.ts';
import { asRead } from '../fixtures/claimed-rows.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import { LittleSite } from '../fixtures/little-site.ts';
import { comparable } from '../fixtures/little-store.ts';
import { smallSite, watchedBy, type SmallSite } from '../fixtures/small-sites.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * The property above all (architecture 4) where clocks are off and the configuration is amended: clock offsets that begin,
 * end and change while the record comes in, delays that are changed from an instant on (`?from=`) – whatever the order of
 * arrival, the events are those of the record folded once under the history that stands in the end. And: what is changed
 * from an instant on changes no event that was over before it.
 */
const CASES = casesOf('CLOCK_ORDER_CASES', 150);
const again = process.env['CLOCK_ORDER_SEED']
  ? {
      seed: Number(process.env['CLOCK_ORDER_SEED']),
      path: process.env['CLOCK_ORDER_PATH'] ?? '',
      endOnFailure: true,
    }
  : { seed: 20_261_126 };
const LONG = { timeout: 20 * 60_000 };

const BASE = seconds(1_700_000_000);

/** Offsets of the gateway `west`: none, or from always, or from a claimed time on, or both. */
const offsets = fc.array(
  fc.record({
    from: fc.oneof(
      fc.constant(-Infinity),
      fc.integer({ min: 0, max: 900 }).map((s) => BASE + seconds(s)),
    ),
    seconds: fc.constantFrom(0, -200, -37, 90, 0.5),
  }),
  { maxLength: 2 },
);
type Offsets = Site['gateways'][number]['clockOffsets'];

const withOffsets = (site: Site, clockOffsets: Offsets): Site => ({
  ...site,
  gateways: site.gateways.map((one) =>
    one.id === 'west' ? { ...one, clockOffsets: clockOffsets.toSorted((a, b) => a.from - b.from) } : one,
  ),
});

const withDelays = (site: Site, offDelay: number): Site => ({
  ...site,
  units: site.units.map((unit) => ({
    ...unit,
    protection: { ...unit.protection, offDelay: { value: offDelay, known: 'recorded' } },
  })),
});

/** What is put: from an instant (-Infinity: always) the site has these offsets and this delay. */
const amendment = fc.record({
  from: fc.oneof(
    fc.constant(-Infinity),
    fc.integer({ min: 100, max: 850 }).map((s) => BASE + seconds(s)),
  ),
  offsets,
  offDelay: fc.constantFrom(60, 90, 150, 210),
});
type Amendment = typeof amendment extends fc.Arbitrary<infer T> ? T : never;

/** As `PUT` does: those of later instants give way. */
function amended(history: SiteHistory, { from, offsets: clockOffsets, offDelay }: Amendment): SiteHistory {
  const held = history.filter((version) => version.from <= from).at(-1) ?? history[0]!;
  const site = withDelays(withOffsets(held.site, clockOffsets), offDelay);
  return [...history.filter((version) => version.from < from), { from, site }];
}

const arrival = fc.record({
  delays: fc.array(fc.constantFrom(0, 0, 0, 1, 30, 600, 3000), { minLength: 1, maxLength: 40 }),
  sizes: fc.array(fc.integer({ min: 20, max: 400 }), { minLength: 2, maxLength: 8 }),
  steps: fc.array(fc.tuple(fc.constantFrom('step', 'small-step', 'checkpoint'), fc.nat(20)), {
    maxLength: 4,
  }),
  /** amendments, each after so many batches */
  amend: fc.array(fc.tuple(fc.nat(8), amendment), { minLength: 1, maxLength: 3 }),
});

function inAnyOrder({ sent }: SmallSite, delays: readonly number[]): Row[] {
  const rows = sent.flatMap((message) => message.rows);
  return rows
    .map((row, i) => ({ row, at: row.t + seconds(delays[i % delays.length]!) }))
    .sort((a, b) => a.at - b.at)
    .map(({ row }) => row);
}

describe('a site whose clocks are corrected and whose settings are amended', () => {
  it(`gives the same events in any order of arrival (${CASES} cases)`, LONG, () => {
    let rewinds = 0;
    let compared = 0;
    fc.assert(
      fc.property(smallSite, offsets, arrival, (small, first, how) => {
        let history: SiteHistory = small.history.map(({ from, site }) => ({
          from,
          site: withOffsets(site, first),
        }));
        const site = new LittleSite(history);
        const arriving = inAnyOrder(small, how.delays);
        let newest: Instant = -Infinity;
        const amend = (one: Amendment): void => {
          history = amended(history, one);
          site.reconfigure(history, one.from);
        };
        for (let i = 0, batch = 0; i < arriving.length; batch++) {
          const rows = arriving.slice(i, (i += how.sizes[batch % how.sizes.length]!));
          newest = rows.reduce((latest, { t }) => Math.max(latest, t), newest);
          site.commit(rows);
          site.watchThrough(watchedBy(small.watch, newest));
          for (const [after, one] of how.amend) if (after === batch) amend(one);
          for (const [what, who] of how.steps)
            if (what === 'checkpoint') site.checkpoint(who);
            else site.step(who, what === 'small-step' ? 20 : Infinity);
          site.stepAll();
        }
        site.watchThrough(small.watch);
        site.stepAll();
        rewinds += site.rewinds;
        const rows = asRead(history, site.record());
        const once = foldSiteOnce({ history, rows, watch: small.watch });
        compared += once.length;
        expect(comparable(site.events())).toEqual(comparable(once));
      }),
      { numRuns: CASES, ...again },
    );
    console.log(`${CASES} cases, ${rewinds} rewinds, ${compared} events compared`);
    expect(rewinds).toBeGreaterThan(CASES / 2);
  });

  it(`a delay changed on Tuesday changes no event of Monday (${CASES} cases)`, LONG, () => {
    const kinds = new Map<string, number>();
    let changed = 0;
    fc.assert(
      fc.property(smallSite, offsets, amendment, (small, first, { from, offDelay }) => {
        const tuesday = from === -Infinity ? BASE + seconds(450) : from;
        const before = small.history
          .map(({ from: at, site }) => ({ from: at, site: withOffsets(site, first) }))
          .filter((version) => version.from < tuesday);
        const held = before.at(-1)!.site;
        const after = [...before, { from: tuesday, site: withDelays(held, offDelay) }];
        const eventsUnder = (history: SiteHistory) => {
          const rows = small.sent.flatMap((message) => message.rows);
          return foldSiteOnce({ history, rows: asRead(history, onceEach(rows)), watch: small.watch });
        };
        const monday = (events: readonly EventDraft[]) =>
          comparable(events.filter(({ end }) => end !== null && end.latest < tuesday - LOOK_AHEAD));
        const [was, now] = [eventsUnder(before), eventsUnder(after)];
        expect(monday(now)).toEqual(monday(was));
        for (const event of was)
          if (event.end !== null && event.end.latest < tuesday)
            kinds.set(event.kind, (kinds.get(event.kind) ?? 0) + 1);
        if (JSON.stringify(comparable(now)) !== JSON.stringify(comparable(was))) changed++;
      }),
      { numRuns: CASES, ...again },
    );
    console.log(
      `${CASES} cases, events of Monday unchanged:`,
      Object.fromEntries(kinds),
      `Tuesdays changed: ${changed}`,
    );
    expect(kinds.size).toBeGreaterThan(5);
    expect(changed).toBeGreaterThan(CASES / 20);
  });
});

/** What follows an end tells of it: a rule may look on for as long as this before it decides. */
const LOOK_AHEAD = 0;

function onceEach(rows: readonly Row[]): Row[] {
  const site = new LittleSite([]);
  site.commit(rows);
  return site.record();
}
