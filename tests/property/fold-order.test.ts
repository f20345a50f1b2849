import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { Subject } from '../../shared/inference/event.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import type { WatchCoverage } from '../../shared/inference/watch.ts';
import type { Point, SiteHistory } from '../../shared/telemetry/site.ts';
import type { ControlInputs } from '../../shared/control/state.ts';
import { during, together, type Script } from '../fixtures/control-run.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import { comparable, LittleStore } from '../fixtures/little-store.ts';
import * as wired from '../fixtures/unit-record.ts';
import { casesOf } from '../fixtures/seed.ts';

/**
 * The property above all (architecture 4): fold(any order of arrival, any batching, duplicates, restarts, lost caches) =
 * fold(sorted, once). And: nothing published as certain is taken back by data in order.
 */
const SUBJECT: Subject = { kind: 'unit', site: 'rowan', device: 'unit-1' };
/** thousands of cases on a busy machine, ms */
const LONG = 20 * 60_000;
const CASES = casesOf('FOLD_ORDER_CASES', 4300);
/** each is folded after every message: dearer, so fewer in an ordinary run */
const IN_ORDER = casesOf('FOLD_ORDER_CASES', 800);

/** Other histories each time; FOLD_ORDER_SEED looks at the same ones again, with a path at one. */
const again = process.env['FOLD_ORDER_SEED']
  ? {
      seed: Number(process.env['FOLD_ORDER_SEED']),
      path: process.env['FOLD_ORDER_PATH'] ?? '',
      endOnFailure: true,
    }
  : {};

/** Something that lasts: a call, an open switch, a sag, an outage that takes the call with it. */
const lasting = (least: number, most: number, on: Partial<ControlInputs>, off: Partial<ControlInputs>) =>
  fc
    .tuple(fc.integer({ min: 0, max: 1400 }), fc.integer({ min: least, max: most }))
    .map(([from, length]): Script => during(from, from + length, on, off));

const script: fc.Arbitrary<Script> = fc
  .tuple(
    fc.array(lasting(20, 1500, { call: true }, { call: false }), { minLength: 1, maxLength: 3 }),
    fc.array(lasting(5, 120, { highPressureOpen: true }, { highPressureOpen: false }), { maxLength: 3 }),
    fc.array(lasting(60, 400, { lowPressureOpen: true }, { lowPressureOpen: false }), { maxLength: 2 }),
    fc.array(lasting(1, 20, { controlVoltage: 16 }, { controlVoltage: 26 }), { maxLength: 1 }),
    fc.array(lasting(1, 90, { controlVoltage: 0, call: false }, { controlVoltage: 26, call: true }), {
      maxLength: 1,
    }),
  )
  .map((parts) => together(...parts.flat()));

const reporting = fc.constantFrom(
  { mode: 'on-change' },
  { mode: 'on-change' },
  { mode: 'on-change' },
  { mode: 'polled', seconds: 5 },
  { mode: 'polled', seconds: 20 },
);
const gateway = fc.constantFrom('east', 'west');
const wiredAs = (signal: object) => fc.record({ reporting, gateway }).map((how) => ({ ...signal, ...how }));
const points = fc
  .tuple(
    wiredAs(wired.CALL),
    wiredAs(wired.OUTPUT),
    wiredAs(wired.ALARM),
    wiredAs(wired.HIGH),
    wiredAs({ ...wired.LOW, sense: 'loop' }),
    wiredAs(wired.VOLTAGE),
  )
  .chain((all) => fc.oneof(fc.constant(all), fc.subarray(all, { minLength: 1 })));

const site = (own: readonly object[], offDelay: number) =>
  wired.oneUnit(own, { offDelay }, {}, [
    { id: 'east', heartbeatSeconds: 30 },
    { id: 'west', heartbeatSeconds: null },
  ]);

const history: fc.Arbitrary<SiteHistory> = fc
  .tuple(points, fc.option(fc.tuple(points, fc.integer({ min: 100, max: 1400 }))), fc.boolean())
  .map(([first, later, same]) => [
    { from: -Infinity, site: site(first, 210) },
    ...(later ? [{ from: seconds(later[1]), site: site(same ? first : later[0], 60) }] : []),
  ]);

/** Which rows are lost, bad, doubled with another value, how often heartbeats come, where nothing was watched. */
const telemetry = fc.record({
  lost: fc.array(fc.tuple(fc.integer({ min: 0, max: 1600 }), fc.integer({ min: 1, max: 200 }), gateway), {
    maxLength: 3,
  }),
  bad: fc.array(fc.nat(5000), { maxLength: 6 }),
  conflicting: fc.array(fc.nat(5000), { maxLength: 6 }),
  glitches: fc.array(fc.tuple(fc.nat(5000), fc.integer({ min: 1, max: 120 })), { maxLength: 4 }),
  unwatched: fc.array(fc.tuple(fc.integer({ min: 0, max: 1600 }), fc.integer({ min: 1, max: 120 })), {
    maxLength: 2,
  }),
});

interface Case {
  readonly history: SiteHistory;
  readonly rows: Row[];
  readonly watch: WatchCoverage;
}

const aCase: fc.Arbitrary<Case> = fc.tuple(history, script, telemetry).map(([versions, lines, faults]) => {
  const pointOf = new Map(
    versions.flatMap(({ site: { units } }) =>
      units[0]!.points.map((point) => [`unit-1/${point.signal}`, point]),
    ),
  );
  const lost = (t: Instant, by: string | undefined) =>
    faults.lost.some(
      ([from, length, whose]) => whose === by && t >= seconds(from) && t < seconds(from + length),
    );
  const told = changesAndPolls(wired.recordOf(lines, {}, 200), pointOf).filter(
    ({ key, t }) => !lost(t, pointOf.get(key)?.gateway),
  );
  const rows: Row[] = told.map((row, i) => (faults.bad.includes(i) ? { ...row, quality: 1 + (i % 2) } : row));
  for (const i of faults.conflicting)
    if (rows[i]) rows.push({ ...rows[i], value: rows[i].value === 0 ? 1 : 0 });
  for (const [i, milliseconds] of faults.glitches) if (rows[i]) rows.push(...glitch(rows[i], milliseconds));
  for (const whose of ['east', 'west'])
    for (let t = -200; t < 1800; t += 10)
      if (!lost(seconds(t), whose)) rows.push({ key: `${whose}/life`, t: seconds(t), value: 1 });
  return { history: versions, rows, watch: watchOf(faults.unwatched) };
});

/** What the gateways tell: every change where a point reports on change, a sample each period where it is polled. */
function changesAndPolls(rows: readonly Row[], points: ReadonlyMap<string, Point>): Row[] {
  const last = new Map<string, number>();
  return rows.filter(({ key, t, value }) => {
    const reporting = points.get(key)?.reporting;
    if (!reporting) return false;
    if (reporting.mode === 'polled') return t % seconds(reporting.seconds) === 0;
    const changed = last.get(key) !== value;
    last.set(key, value);
    return changed;
  });
}

const glitch = (row: Row, milliseconds: number): Row[] => [
  { ...row, t: row.t + milliseconds * 500, value: row.value === 0 ? 1 : 0 },
  { ...row, t: row.t + milliseconds * 1000 },
];

function watchOf(holes: readonly (readonly [number, number])[]): WatchCoverage {
  const spans: { from: Instant; to: Instant }[] = [];
  let from = -300;
  for (const [at, length] of [...holes].sort((a, b) => a[0] - b[0])) {
    if (at <= from) continue;
    spans.push({ from: seconds(from), to: seconds(at) });
    from = at + length;
  }
  return { spans: [...spans, { from: seconds(from), to: seconds(Math.max(1900, from + 1)) }] };
}

/** The watch marks as they stood when everything up to `at` had been received: a mark comes with each commit. */
const watchedBy = (watch: WatchCoverage, at: Instant): WatchCoverage => ({
  spans: watch.spans.filter(({ from }) => from < at).map(({ from, to }) => ({ from, to: Math.min(to, at) })),
});

type Decision = 'step' | 'checkpoint' | 'lose-state' | 'lose-checkpoints' | 'small-step';
const decision: fc.Arbitrary<Decision> = fc.constantFrom(
  'step',
  'step',
  'step',
  'checkpoint',
  'checkpoint',
  'small-step',
  'lose-state',
  'lose-checkpoints',
);

/** In what order rows arrive: each is held back by so many seconds, some come twice. */
const delivery = fc.record({
  delays: fc.array(fc.constantFrom(0, 0, 0, 1, 30, 600, 3000), { minLength: 1, maxLength: 40 }),
  twice: fc.array(fc.nat(5000), { maxLength: 10 }),
  batches: fc.array(fc.tuple(fc.integer({ min: 1, max: 200 }), decision), { minLength: 3, maxLength: 20 }),
});

function inArrival(rows: readonly Row[], delays: readonly number[], twice: readonly number[]): Row[] {
  const arriving = rows.map((row, i) => ({ row, at: row.t + seconds(delays[i % delays.length]!) }));
  for (const i of twice) if (rows[i]) arriving.push({ row: rows[i], at: rows[i].t + seconds(2000) });
  return arriving.sort((a, b) => a.at - b.at).map(({ row }) => row);
}

describe('the unit fold', () => {
  it(`gives the same events in any order of arrival (${CASES} cases)`, { timeout: LONG }, () => {
    let rewinds = 0;
    let events = 0;
    fc.assert(
      fc.property(aCase, delivery, ({ history: versions, rows, watch }, how) => {
        const store = new LittleStore(unitFold, versions, SUBJECT);
        const arriving = inArrival(rows, how.delays, how.twice);
        let newest = -Infinity;
        for (let i = 0, batch = 0; i < arriving.length; batch++) {
          const [size, decided] = how.batches[batch % how.batches.length]!;
          const rowsNow = arriving.slice(i, i + size);
          i += size;
          store.commit(rowsNow);
          newest = Math.max(newest, ...rowsNow.map(({ t }) => t));
          if (decided === 'lose-state') store.loseState();
          if (decided === 'lose-checkpoints') store.loseCheckpoints();
          store.step(watchedBy(watch, newest), decided === 'small-step' ? 40 : Infinity);
          if (decided === 'checkpoint') store.checkpoint();
        }
        store.step(watch);
        rewinds += store.rewinds;
        const now = Math.max(watch.spans.at(-1)!.to, newest);
        const once = foldOnce({
          fold: unitFold,
          history: versions,
          subject: SUBJECT,
          rows: store.record(),
          watch,
          now,
        });
        events += once.events.length;
        expect(comparable(store.events())).toEqual(comparable(once.events));
      }),
      { numRuns: CASES, ...again },
    );
    console.log(`${CASES} cases, ${rewinds} rewinds, ${events} events compared`);
    expect(rewinds).toBeGreaterThan(CASES / 10);
  });

  it(`takes nothing certain back while data come in order (${IN_ORDER} cases)`, { timeout: LONG }, () => {
    const certain = new Map<string, number>();
    let total = 0;
    fc.assert(
      fc.property(
        aCase,
        fc.array(fc.integer({ min: 1, max: 60 }), { minLength: 1, maxLength: 20 }),
        (one, sizes) => {
          const store = new LittleStore(unitFold, one.history, SUBJECT);
          const arriving = [...one.rows].sort((a, b) => a.t - b.t);
          const published = new Map<string, string>();
          for (let i = 0, batch = 0; i < arriving.length; batch++) {
            const rows = arriving.slice(i, (i += sizes[batch % sizes.length]!));
            store.commit(rows);
            store.step(watchedBy(one.watch, rows.at(-1)!.t));
            const now = new Map(store.events().map((event) => [event.id, event]));
            for (const [id, what] of published) expect(now.get(id)?.certainty, what).toBe('certain');
            for (const event of now.values())
              if (event.certainty === 'certain') published.set(event.id, wired.told(event));
          }
          total += published.size;
          for (const what of published.values()) {
            const kind = what.split(' ')[0]!;
            certain.set(kind, (certain.get(kind) ?? 0) + 1);
          }
        },
      ),
      { numRuns: IN_ORDER, ...again },
    );
    console.log(`${IN_ORDER} cases, ${total} certain events, none taken back`, Object.fromEntries(certain));
    expect(total).toBeGreaterThan(IN_ORDER);
  });
});
