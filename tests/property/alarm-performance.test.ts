import fc from 'fast-check';
import { expect, test } from 'vitest';
import { announcedIn, type JournalLine } from '../../shared/alarms/performance/announced.ts';
import { measuresOf, type MeasureId } from '../../shared/alarms/performance/measures.ts';
import { AT_REST, stateOf, type AlarmLife } from '../../shared/alarms/life.ts';
import { move, type Input } from '../../shared/alarms/machine.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';

/**
 * The measures against a count of another make: the real machine lives some alarms, its journal is measured, and a naive
 * observer, who looks at the alarms each second and knows nothing of a journal, counts what was to be seen.
 */
const START = 1_700_006_400;
const at = (second: number): Instant => seconds(START + second);
const SETTINGS = { onDelaySeconds: 0, offDelaySeconds: 0, latches: false };
const ALARMS = ['a', 'b'] as const;
const LENGTH = 4 * 3600;
const stretch = { from: at(0), to: at(LENGTH) };

type Act = 'comes' | 'goes' | 'acknowledge' | 'shelve' | 'unshelve' | 'hide' | 'show';
const often = (weight: number, ...some: readonly Act[]) => ({ weight, arbitrary: fc.constantFrom(...some) });
interface Step {
  readonly after: number;
  readonly alarm: number;
  readonly act: Act;
}

function inputOf(act: Act, now: Instant): Input {
  const mark = { by: 'Ada', at: now };
  switch (act) {
    case 'comes':
      return { kind: 'observed', since: now, until: null, through: now, severity: 'major' };
    case 'goes':
      return { kind: 'observed', since: null, until: now, through: now, severity: 'major' };
    case 'shelve':
      return { ...mark, kind: 'shelve', until: now + seconds(86_400), reason: 'noise' };
    case 'hide':
      return { kind: 'suppress', by: { kind: 'work', id: 'w' } };
    case 'show':
      return { kind: 'suppress', by: null };
    default:
      return { ...mark, kind: act };
  }
}

/** What is to be seen of each alarm in each second: asked for somebody, true, accepted. */
interface Seen {
  readonly asks: boolean;
  readonly open: boolean;
  readonly stands: boolean;
  readonly acknowledgedAt: number | null;
}

function lived(steps: readonly Step[]) {
  const lives = new Map<string, AlarmLife>(ALARMS.map((name) => [name, AT_REST]));
  const lines: JournalLine[] = [];
  const seen = new Map<string, (Seen & { second: number })[]>(ALARMS.map((name) => [name, []]));
  let second = 0;
  for (const { after, alarm, act } of steps) {
    second += after;
    const name = ALARMS[alarm]!;
    const moved = move(lives.get(name)!, inputOf(act, at(second)), SETTINGS);
    lives.set(name, moved.life);
    const { life } = moved;
    const state = stateOf(life);
    for (const what of moved.happened)
      lines.push({
        alarm: name,
        key: name,
        what,
        at: at(second),
        by: 'Ada',
        why: 'noise',
        state,
        severity: 'major',
      });
    const asks = moved.happened.some((what) => what.startsWith('raised')) && 'BCDEF'.includes(state);
    const acknowledgedAt = act === 'acknowledge' && moved.refused === null ? second : null;
    const stands = life.condition === 'present';
    seen.get(name)!.push({ second, asks, open: 'BCDEF'.includes(state), stands, acknowledgedAt });
  }
  return { lines, seen };
}

/** Looks on and counts, with nothing but what was to be seen. */
function naive(seen: ReturnType<typeof lived>['seen']) {
  const asked = [...seen].flatMap(([name, own]) =>
    own.flatMap((one, n) => {
      if (!one.asks) return [];
      const later = own.slice(n + 1);
      const again = later.findIndex(({ asks }) => asks);
      const until = again < 0 ? later : later.slice(0, again);
      const closed = until.findIndex(({ open }) => !open);
      const inSight = closed < 0 ? until : until.slice(0, closed + 1);
      const gone = inSight.find(({ stands, open }) => !stands && (open || closed >= 0));
      const left = closed < 0 ? (again < 0 ? null : later[again]!.second) : until[closed]!.second;
      const taken = inSight.find(({ acknowledgedAt }) => acknowledgedAt !== null);
      return [{ name, second: one.second, gone: gone?.second ?? null, left, taken: taken?.second ?? null }];
    }),
  );
  const counts = Array.from(
    { length: LENGTH / 600 },
    (_, piece) => asked.filter(({ second }) => Math.floor(second / 600) === piece).length,
  );
  let [floods, flooded, isIn] = [0, 0, false];
  for (const count of counts) {
    if (isIn && count < 5) isIn = false;
    if (!isIn && count > 10) [isIn, floods] = [true, floods + 1];
    flooded += Number(isIn);
  }
  const chatters = asked.filter((one) =>
    asked.some(
      (first) =>
        first.name === one.name &&
        first.second <= one.second &&
        one.second <= first.second + 60 &&
        asked.filter(
          ({ name, second }) => name === one.name && second >= first.second && second <= first.second + 60,
        ).length >= 3,
    ),
  );
  const waits = asked.flatMap(({ second, taken }) => (taken === null ? [] : [taken - second]));
  return {
    'a-day': asked.length / (LENGTH / 86_400),
    floods,
    'in-flood': flooded / counts.length,
    chattering: chatters.length,
    fleeting: asked.filter(({ second, gone }) => gone !== null && gone - second < 10).length,
    'to-accept':
      waits.length === 0 ? null : waits.toSorted((a, b) => a - b)[Math.floor((waits.length - 1) / 2)],
  } satisfies Partial<Record<MeasureId, number | null | undefined>>;
}

const step = fc.record({
  after: fc.oneof(
    { weight: 20, arbitrary: fc.integer({ min: 1, max: 12 }) },
    fc.integer({ min: 1, max: 900 }),
  ),
  alarm: fc.integer({ min: 0, max: ALARMS.length - 1 }),
  act: fc.oneof(
    often(10, 'comes', 'goes'),
    often(2, 'acknowledge', 'unshelve', 'show'),
    often(1, 'shelve', 'hide'),
  ),
});

test('journals measure as a naive observer counts', () => {
  let [floods, chatters] = [0, 0];
  fc.assert(
    fc.property(fc.array(step, { minLength: 1, maxLength: 240, size: 'max' }), (steps) => {
      const whole: Step[] = [];
      let second = 0;
      for (const one of steps) if ((second += one.after) < LENGTH) whole.push(one);
      const { lines, seen } = lived(whole);
      const measures = measuresOf({ announced: announcedIn(lines), lines, stretch, sources: 2 });
      const expected = naive(seen);
      for (const [id, value] of Object.entries(expected)) {
        const found = measures.find((one) => one.id === id)!.value;
        if (typeof value === 'number') expect(found, id).toBeCloseTo(value, 9);
        else expect(found, id).toBe(value);
      }
      floods += expected.floods;
      chatters += expected.chattering;
    }),
    { numRuns: 300 },
  );
  // what is compared has to come about
  console.log(`${floods} floods, ${chatters} alarms that chattered`);
  expect(floods).toBeGreaterThan(10);
  expect(chatters).toBeGreaterThan(50);
});
