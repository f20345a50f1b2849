import fc from 'fast-check';
import { expect, test } from 'vitest';
import { parseInstant, seconds } from '../../shared/base/instant.ts';
import { judgeProof } from '../../shared/proof/judge.ts';
import type { MarkKind, ProofMark } from '../../shared/proof/session.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { MARK_INPUTS, Shelter, shelterDocument, type Miswired } from '../fixtures/proof-shelter.ts';
import { fixedSeed } from '../fixtures/seed.ts';

/**
 * What a session has proven doesn’t lean on the order in which anything came: rows in any batches, twice, marks behind them, an
 * uplink that lags. Miswired as chance has it.
 */
const CASES = Number(process.env['PROOF_ORDER_CASES'] ?? 60);
const START = parseInstant('2026-03-03T17:00:00Z')!;
const parsed = parseConfiguration('kettle-ridge', shelterDocument());
if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
const HISTORY = [{ from: -Infinity, site: parsed.site }];

const WIRES = ['cooling-call', 'compressor-output', 'lockout-alarm', 'high-pressure'];
const wire = fc.tuple(fc.constantFrom(1, 2), fc.constantFrom(...WIRES)).map(([n, s]) => `unit-${n}/${s}`);
const miswired: fc.Arbitrary<Miswired> = fc.record({
  clock: fc.constantFrom(0, -90, 240),
  inverted: fc.uniqueArray(wire, { maxLength: 1 }),
  dead: fc.uniqueArray(wire, { maxLength: 1 }),
  swapped: fc.uniqueArray(wire, { minLength: 2, maxLength: 2 }).map(([a, b]) => [[a!, b!] as const]),
});
const KINDS: readonly MarkKind[] = [
  'call-on',
  'call-off',
  'alarm-open',
  'alarm-closed',
  'power-off',
  'power-back',
];
const step = fc.record({
  kind: fc.constantFrom(...KINDS),
  unit: fc.constantFrom(1, 2),
  after: fc.integer({ min: 3, max: 120 }),
});
function visitOf(wrong: Miswired, steps: readonly { kind: MarkKind; unit: number; after: number }[]) {
  const shelter = new Shelter(START - seconds(120), wrong);
  const marks: ProofMark[] = [];
  let at = START + seconds(20);
  for (const [i, { kind, unit, after }] of steps.entries()) {
    shelter.set(unit, at, MARK_INPUTS[kind]!);
    const pressed = at + seconds(2);
    marks.push({
      id: String(i).padStart(3, '0'),
      kind,
      on: `unit-${unit}`,
      at: pressed,
      arrivedAt: pressed,
      by: 'Ann',
      note: '',
    });
    at += seconds(after);
  }
  shelter.advance(at + seconds(60));
  return { rows: shelter.take(), marks };
}

/** As the store would have it: each point and instant once, in whatever order it was written. */
function stored(rows: readonly Row[]): Map<string, Sample[]> {
  const found = new Map<string, Map<number, Sample>>();
  for (const { key, t, value } of rows) {
    const own = found.get(key) ?? new Map<number, Sample>();
    const before = own.get(t);
    const sample = { t, value, quality: 0 };
    own.set(t, before ? mergeSamples(before, sample) : sample);
    found.set(key, own);
  }
  return new Map([...found].map(([key, own]) => [key, [...own.values()]]));
}

test('the same verdict whatever came first, twice, or late', () => {
  const seed = fixedSeed();
  fc.assert(
    fc.property(
      miswired,
      fc.array(step, { minLength: 2, maxLength: 12 }),
      fc.infiniteStream(fc.double({ min: 0, max: 1, noNaN: true })),
      (wrong, steps, dice) => {
        const { rows, marks } = visitOf(wrong, steps);
        const shuffled = <T>(list: readonly T[]): T[] =>
          list
            .map((one) => ({ one, by: dice.next().value as number }))
            .toSorted((a, b) => a.by - b.by)
            .map(({ one }) => one);
        const judged = (told: readonly Row[], pressed: readonly ProofMark[]) =>
          judgeProof({
            session: { from: START, to: START + seconds(8 * 3600) },
            history: HISTORY,
            samples: stored(told),
            lives: new Map([['gateway', Math.max(...told.map(({ t }) => t))]]),
            events: [],
            marks: pressed,
          });
        const inOrder = judged(rows, marks);
        const twice = rows.filter(() => (dice.next().value as number) < 0.2);
        expect(judged(shuffled([...rows, ...twice]), shuffled(marks))).toEqual(inOrder);
      },
    ),
    { numRuns: CASES, ...(seed === null ? {} : { seed }) },
  );
});
