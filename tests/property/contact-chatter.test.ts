import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import {
  chainEnd,
  closeChain,
  isHumming,
  newTrack,
  takeOnChange,
  valueBefore,
  type Edge,
  type Track,
} from '../../shared/inference/track.ts';

/**
 * Chatter of a contact that reports on change (handbook 3): a bounce is one edge from its first change to its last, if the
 * value differs after; the hum of 24 V AC behind a half-wave input is presence from its first change to its last.
 */
const RUNS = { numRuns: 400, seed: 20_261_126 };
const RESOLUTION = seconds(0.001);
const DEBOUNCE = seconds(0.05);

interface Change {
  readonly t: Instant;
  readonly value: number;
}

/** What a track makes of changes, its state stored and read again after every one, as a checkpoint may. */
function edgesOf(changes: readonly Change[], until: Instant): { edges: Edge[]; track: Track } {
  let track = newTrack();
  const edges: Edge[] = [];
  const pass = (t: Instant) => {
    const end = chainEnd(track);
    if (end !== null && end <= t) edges.push(...closeChain(track));
  };
  for (const { t, value } of changes) {
    pass(t - 1);
    edges.push(...takeOnChange(track, t, value, RESOLUTION, DEBOUNCE, 1));
    track = JSON.parse(JSON.stringify(track)) as Track;
  }
  pass(until);
  return { edges: edges.filter(({ from }) => from !== null), track };
}

/** Voltage from `from` for so many mains cycles, the input closed for a part of each; gateway stamps to the millisecond. */
const hum = fc.record({
  from: fc.integer({ min: 1, max: 100 }).map((s) => seconds(s)),
  hertz: fc.constantFrom(50, 60, 100, 120),
  pulses: fc.integer({ min: 30, max: 300 }),
  duty: fc.double({ min: 0.2, max: 0.7, noNaN: true }),
  jitter: fc.array(fc.integer({ min: 0, max: 1 }), { minLength: 1, maxLength: 20 }),
});
type Hum = typeof hum extends fc.Arbitrary<infer T> ? T : never;

function humming({ from, hertz, pulses, duty, jitter }: Hum): Change[] {
  const stamp = (t: number, i: number) => from + Math.round(t * 1000 + jitter[i % jitter.length]!) * 1000;
  return Array.from({ length: pulses }, (_, i) => [
    { t: stamp(i / hertz, i), value: 1 },
    { t: stamp((i + duty) / hertz, i) + 1000, value: 0 },
  ]).flat();
}

describe('a contact that chatters', () => {
  it('by 60 or 120 Hz is present from its first change to its last, and nothing in between', () => {
    fc.assert(
      fc.property(hum, (one) => {
        const changes = humming(one);
        const [first, last] = [changes[0]!.t, changes.at(-1)!.t];
        const quiet = [{ t: 0, value: 0 }];
        const { edges } = edgesOf([...quiet, ...changes], last + seconds(1));
        expect(edges).toEqual([
          { from: 0, to: 1, earliest: first - RESOLUTION, latest: first + RESOLUTION },
          { from: 1, to: 0, earliest: last - RESOLUTION, latest: last + RESOLUTION },
        ]);
      }),
      RUNS,
    );
  });

  it('by mains and isn’t over yet is present', () => {
    fc.assert(
      fc.property(hum, (one) => {
        const changes = humming(one);
        const { track } = edgesOf([{ t: 0, value: 0 }, ...changes], changes.at(-1)!.t);
        expect(isHumming(track)).toBe(true);
        expect(valueBefore(track, changes.at(-1)!.t)).toBe(1);
      }),
      { ...RUNS, numRuns: 100 },
    );
  });

  it('as it closes or opens is one edge, from the first change to the last', () => {
    const bounce = fc.record({
      to: fc.constantFrom(0, 1),
      gaps: fc.array(fc.integer({ min: 200, max: 9000 }), { maxLength: 10 }),
    });
    fc.assert(
      fc.property(bounce, ({ to, gaps }) => {
        const even = gaps.slice(0, gaps.length - (gaps.length % 2));
        let t = seconds(10);
        const changes: Change[] = [{ t, value: to }];
        for (const [i, gap] of even.entries())
          changes.push({ t: (t += gap), value: i % 2 === 0 ? 1 - to : to });
        const { edges } = edgesOf([{ t: 0, value: 1 - to }, ...changes], t + seconds(1));
        const span = { earliest: seconds(10) - RESOLUTION, latest: t + RESOLUTION };
        expect(edges).toEqual([{ from: 1 - to, to, ...span }]);
      }),
      RUNS,
    );
  });

  it('and comes to rest where it was has done nothing', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(0, 1),
        fc.array(fc.integer({ min: 200, max: 9000 }), { maxLength: 9 }),
        (was, gaps) => {
          const odd = gaps.slice(0, gaps.length - (gaps.length % 2)).concat(3000);
          let t = seconds(10);
          const changes: Change[] = [{ t, value: 1 - was }];
          for (const [i, gap] of odd.entries())
            changes.push({ t: (t += gap), value: i % 2 === 0 ? was : 1 - was });
          expect(edgesOf([{ t: 0, value: was }, ...changes], t + seconds(1)).edges).toEqual([]);
        },
      ),
      RUNS,
    );
  });
});
