import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { edgeAt, type UnitEdge } from '../../shared/inference/edge.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { foldPlace, type PlaceInput } from '../fixtures/place-run.ts';
import { byId, foldInSteps, takenBack, type Step } from '../fixtures/place-steps.ts';
import { eye, seen, truth, type Eye, type Truth } from '../fixtures/seen.ts';

/**
 * A panel's fold against histories whose truth is known: two to four units, each seen on change or polled, that start,
 * stop, lose power and get it back. What is certain is true; how the record was cut doesn't matter.
 */
const MINIMUM = 2;
const UNTIL = 1500;
const IDS = ['unit-1', 'unit-2', 'unit-3', 'unit-4'];
const RUNS = Number(process.env['PROPERTY_RUNS'] ?? 1000);

interface Unit {
  readonly runs: Truth;
  readonly power: Truth;
  readonly eye: Eye;
  readonly powerEye: Eye;
}

/** Starts gather around a few instants, so that many fall close together. */
const history = fc
  .record({
    around: fc.array(fc.integer({ min: 100, max: UNTIL }), { minLength: 1, maxLength: 5 }),
    outage: fc.tuple(fc.integer({ min: 50, max: 600 }), fc.integer({ min: 1, max: 300 })),
    units: fc.array(
      fc.record({
        near: fc.array(fc.tuple(fc.nat(4), fc.integer({ min: -3500, max: 3500 })), { maxLength: 4 }),
        lost: fc.boolean(),
        lag: fc.integer({ min: 0, max: 3000 }),
        eye: eye(0, 0, 1, 5),
        powerEye: eye(0, 0, 1, 5),
        stray: truth(UNTIL, 20, 4),
      }),
      { minLength: 2, maxLength: 4 },
    ),
  })
  .map(({ around, outage, units }) =>
    units.map((unit): Unit => ({
      runs: { changes: apart(startsNear(around, unit.near).concat(unit.stray.changes), seconds(16)) },
      power: unit.lost ? lossOf(outage, unit.lag) : { changes: [] },
      eye: unit.eye,
      powerEye: unit.powerEye,
    })),
  );

const startsNear = (around: readonly number[], near: readonly (readonly [number, number])[]): Instant[] =>
  near.flatMap(([which, offset]) => {
    const start = around[which % around.length]! * 1_000_000 + offset * 1000;
    return [start, start + seconds(20)];
  });

const lossOf = ([from, length]: readonly [number, number], lag: number): Truth => ({
  changes: [seconds(from), seconds(from + 16 + length) + lag * 1000],
});

/** In order, none closer than `gap` to the one before. */
function apart(changes: readonly Instant[], gap: number): Instant[] {
  const kept: Instant[] = [];
  for (const change of [...changes].sort((a, b) => a - b))
    if (change > 0 && change - (kept.at(-1) ?? -Infinity) >= gap) kept.push(change);
  return kept;
}

function inputOf(units: readonly Unit[]): PlaceInput {
  const parsed = parseConfiguration('rowan', {
    timeZone: 'UTC',
    panels: [{ id: 'panel-a', minimumStartSeparation: MINIMUM }],
    units: units.map((unit, i) => ({
      id: IDS[i],
      panel: 'panel-a',
      protection: { offDelay: 210 },
      points: points(unit),
    })),
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return {
    history: [{ from: -Infinity, site: parsed.site }],
    subject: { kind: 'panel', site: 'rowan', device: 'panel-a' },
    edges: units.flatMap((unit, i) => edgesOf(IDS[i]!, unit)).sort((a, b) => edgeAt(a) - edgeAt(b)),
    rows: [],
    watch: { spans: [] },
    now: seconds(UNTIL + 3600),
  };
}

const reporting = ({ period }: Eye) =>
  period === 0 ? { mode: 'on-change' } : { mode: 'polled', seconds: period / 1e6 };
const points = ({ eye, powerEye }: Unit) => [
  { signal: 'compressor-output', reporting: reporting(eye) },
  { signal: 'control-voltage', reporting: reporting(powerEye) },
];

const edgesOf = (id: string, { runs, power, eye, powerEye }: Unit): UnitEdge[] => [
  ...seen(id, runs, eye, ['start', 'stop'], { at: 0, detail: { of: 'run', now: 0 } }),
  ...seen(id, power, powerEye, ['power-away', 'power-back'], { at: 0, detail: { of: 'power', now: 1 } }),
];

const steps = (units: number): fc.Arbitrary<Step[]> =>
  fc
    .array(
      fc.record({
        now: fc.integer({ min: 0, max: (UNTIL + 900) * 1000 }),
        lags: fc.array(fc.integer({ min: 0, max: 60_000 }), { minLength: units, maxLength: units }),
      }),
      { minLength: 1, maxLength: 6 },
    )
    .map((drawn) => {
      const known = new Map<string, Instant>();
      const made = drawn
        .sort((a, b) => a.now - b.now)
        .map(({ now, lags }) => {
          lags.forEach((lag, i) => {
            known.set(IDS[i]!, Math.max(known.get(IDS[i]!) ?? -Infinity, (now - lag) * 1000));
          });
          return { now: now * 1000, members: Object.fromEntries(known) };
        });
      const last = seconds(UNTIL + 3600);
      return [...made, { now: last, members: Object.fromEntries(IDS.map((id) => [id, last])) }];
    });

const drawn = history.chain((units) => fc.tuple(fc.constant(units), steps(units.length)));

/** Chains of true starts of different units, each closer to the next than the minimum. */
function trueGroups(units: readonly Unit[]): Instant[][] {
  const starts = units
    .flatMap(({ runs }, i) => runs.changes.filter((_, n) => n % 2 === 0).map((t) => ({ t, unit: i })))
    .sort((a, b) => a.t - b.t);
  const groups: { t: Instant; unit: number }[][] = [];
  for (const start of starts) {
    const last = groups.at(-1);
    if (last && start.t - last.at(-1)!.t < seconds(MINIMUM)) last.push(start);
    else groups.push([start]);
  }
  return groups
    .filter((group) => new Set(group.map(({ unit }) => unit)).size > 1)
    .map((group) => group.map(({ t }) => t));
}

const within = ({ earliest, latest }: EventDraft['start'], t: Instant): boolean =>
  earliest <= t && t <= latest;

describe('a panel', () => {
  it('says the same however the record was cut, and takes nothing certain back', () => {
    fc.assert(
      fc.property(drawn, ([units, cuts]) => {
        const input = inputOf(units);
        const shown = foldInSteps(input, cuts);
        expect(byId(shown.at(-1)!.events)).toEqual(byId(foldPlace(input).events));
        expect(takenBack(shown)).toEqual([]);
      }),
      { numRuns: RUNS },
    );
  });

  it('calls starts simultaneous for certain only where they truly were, their true times in its intervals', () => {
    let found = 0;
    fc.assert(
      fc.property(history, (units) => {
        const truths = trueGroups(units);
        const events = foldPlace(inputOf(units)).events.filter(({ kind }) => kind === 'simultaneous-start');
        const certain = events.filter(({ certainty }) => certainty === 'certain');
        found += certain.length;
        const matched = certain.map(({ start, end }) =>
          truths.findIndex((group) => within(start, group[0]!) && within(end!, group.at(-1)!)),
        );
        expect(matched).not.toContain(-1);
        expect(new Set(matched).size).toBe(matched.length);
      }),
      { numRuns: RUNS },
    );
    expect(found).toBeGreaterThan(RUNS / 10);
  });

  it('finds every simultaneous start that is seen on change and not within the resolution of the minimum', () => {
    fc.assert(
      fc.property(history, (units) => {
        const sharp = units.map((unit) => ({ ...unit, eye: { period: 0, phase: 0 } }));
        const events = foldPlace(inputOf(sharp)).events.filter(({ kind }) => kind === 'simultaneous-start');
        const starts = sharp.flatMap(({ runs }) => runs.changes.filter((_, n) => n % 2 === 0));
        const clear = trueGroups(sharp).filter((group) => {
          const inside = group.every((t, i) => i === 0 || t - group[i - 1]! < seconds(MINIMUM - 0.25));
          const reach = seconds(MINIMUM + 0.25);
          const beside = starts.filter((t) => t > group[0]! - reach && t < group.at(-1)! + reach);
          return inside && beside.length === group.length;
        });
        for (const group of clear)
          expect(
            events.some(({ start, certainty }) => within(start, group[0]!) && certainty === 'certain'),
          ).toBe(true);
      }),
      { numRuns: RUNS },
    );
  });

  it('dates a restart sequence by the true return of power', () => {
    let found = 0;
    fc.assert(
      fc.property(history, (units) => {
        const returns = units.flatMap(({ power }) => power.changes[1] ?? []);
        const sequences = foldPlace(inputOf(units)).events.filter(({ kind }) => kind === 'restart-sequence');
        found += sequences.length;
        for (const { start } of sequences) expect(within(start, Math.min(...returns))).toBe(true);
      }),
      { numRuns: RUNS },
    );
    expect(found).toBeGreaterThan(RUNS / 10);
  });
});
