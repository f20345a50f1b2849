import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { distribution, mostInAnHour, runTimes } from '../../shared/cooling/run-times.ts';
import { runEdgesOf } from '../../shared/inference/run-edges.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import { foldPlace } from '../fixtures/place-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * Records that others made, run through the folds as if a gateway had sent them. They lie beside the project, in
 * `../shared/data`, with their licences and provenance; nothing of them is copied here. Where they aren't there, these
 * tests say so and are skipped. Reference figures: the README beside the records, found with an independent script.
 */
const DATA = '../shared/data';
const here = existsSync(`${DATA}/thermostat-cycles/cycles.csv`);
if (!here) console.log(`no ${DATA}: the tests on real records are skipped`);

const lines = (path: string): string[][] =>
  readFileSync(`${DATA}/${path}`, 'utf8')
    .trim()
    .split(/\r?\n/)
    .slice(1)
    .map((line) => line.split(','));

/** Local time without a zone: read as it stands, so that days are its own days. */
const local = (text: string): Instant => parseInstant(`${text.replace(' ', 'T')}Z`)!;

describe.skipIf(!here)('on/off cycles of a house in Texas, as call and output contacts', () => {
  interface Cycle {
    readonly on: Instant;
    readonly off: Instant;
  }
  const cycles = (): Cycle[] =>
    lines('thermostat-cycles/cycles.csv')
      .filter(([id, kind]) => id === '92' && kind === 'Cool')
      .map(([, , start, end]) => ({ on: local(start!), off: local(end!) }));

  /** Where a row ends at the very second at which the next begins, the contact opened for the blink of a millisecond. */
  function contacts(found: readonly Cycle[]): Row[] {
    const both = (t: Instant, value: number): Row[] =>
      ['cooling-call', 'compressor-output'].map((signal) => ({ key: `unit-1/${signal}`, t, value }));
    return [
      ...both(found[0]!.on - seconds(3600), 0),
      ...found.flatMap(({ on, off }, i) => [
        ...both(found[i - 1]?.off === on ? on + 1000 : on, 1),
        ...both(off, 0),
      ]),
    ];
  }

  const exact = { debounce: 0, resolution: 0 };
  const fold = (found: readonly Cycle[]) =>
    foldOnce({
      fold: unitFold,
      history: [
        {
          from: -Infinity,
          site: wired.oneUnit(
            [
              { ...wired.CALL, ...exact },
              { ...wired.OUTPUT, ...exact },
            ],
            { offDelay: 180 },
          ),
        },
      ],
      subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
      rows: contacts(found),
      now: found.at(-1)!.off + seconds(3600),
    });

  it('gives the reference counts', () => {
    const found = cycles();
    const result = fold(found);
    const edges = runEdgesOf([...result.settled.edges.map(({ edge }) => edge), ...result.provisional.edges]);
    const times = runTimes(edges, found[0]!.on - seconds(3600), found.at(-1)!.off + seconds(3600));
    const [on, off] = [distribution(times.runs)!, distribution(times.rests)!];
    expect(times.starts.length).toBe(2958);
    expect(result.events.filter(({ kind }) => kind === 'compressor-run').length).toBe(2958);
    expect(on.least.map(Math.round)).toEqual([60, 60]);
    expect(on.median.map(Math.round)).toEqual([487, 487]);
    expect(on.mean[0]).toBeCloseTo(570.6, 1);
    expect(on.most.map(Math.round)).toEqual([11_461, 11_461]);
    expect(off.median.map(Math.round)).toEqual([1200, 1200]);
    expect(times.rests.filter(([, most]) => most < 180).length).toBe(15);
    expect(times.rests.filter(([, most]) => most < 300).length).toBe(16);
    expect(mostInAnHour(times.starts)).toBe(5);
    expect(Math.max(...perDay(times.starts).values())).toBe(63);
    expect(times.onSeconds[0] / 3600).toBeCloseTo(468.86, 2);
  });

  it('calls the 15 rests below 180 s short cycles, and no other start', () => {
    const short = fold(cycles()).events.filter(({ kind }) => kind === 'short-cycle');
    expect(short.length).toBe(15);
  });

  const perDay = (starts: readonly Instant[]): Map<number, number> => {
    const days = new Map<number, number>();
    for (const t of starts) {
      const day = Math.floor(t / 86_400e6);
      days.set(day, (days.get(day) ?? 0) + 1);
    }
    return days;
  };
});

describe.skipIf(!here)('eleven months of an office’s hourly temperature', () => {
  const FAHRENHEIT = { scale: 5 / 9, offset: -160 / 9 };
  const parsed = parseConfiguration('rowan', {
    timeZone: 'UTC',
    panels: [{ id: 'panel-a' }],
    spaces: [
      {
        id: 'room',
        limits: { temperature: ((80 - 32) * 5) / 9 },
        points: [
          { signal: 'space-temperature', reporting: { mode: 'polled', seconds: 3600 }, ...FAHRENHEIT },
        ],
      },
    ],
    units: [],
  });
  const rows = (): Row[] =>
    lines('space-temperature/ambient_temperature_system_failure.csv').map(([t, value]) => ({
      key: 'room/space-temperature',
      t: local(t!),
      value: Number(value),
    }));
  function fold(found: readonly Row[]) {
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
    const now = found.at(-1)!.t;
    return foldPlace({
      history: [{ from: -Infinity, site: parsed.site }],
      subject: { kind: 'space', site: 'rowan', device: 'room' },
      edges: [],
      rows: found,
      watch: { spans: [{ from: found[0]!.t, to: now }] },
      now,
    });
  }

  it('is above 80 °F where its 58 samples are: eight stretches, none of them in a gap', () => {
    const found = rows();
    expect(found.length).toBe(7267);
    const above = found.filter(({ value }) => value > 80);
    expect(above.length).toBe(58);
    const hot = fold(found).events.filter(({ kind }) => kind === 'high-temperature');
    expect(hot.length).toBe(8);
    const sure = (t: Instant) => hot.some(({ start, end }) => start.latest <= t && t < end!.latest);
    expect(above.every(({ t }) => sure(t))).toBe(true);
    expect(found.filter(({ t, value }) => value <= 80 && sure(t))).toEqual([]);
    expect(hot.every(({ start }) => start.latest - start.earliest <= seconds(3600))).toBe(true);
    const peak = Math.max(...hot.map(({ measures }) => measures['peakTemperature'] as number));
    expect((peak * 9) / 5 + 32).toBeCloseTo(86.22, 2);
  });

  it('has gaps where it fell silent, and nothing but gaps in them', () => {
    const found = rows();
    const steps = found.slice(1).map(({ t }, i) => ({ from: found[i]!.t, to: t }));
    expect(steps.filter(({ from, to }) => to - from !== seconds(3600)).length).toBe(10);
    // a step of 2 or 3 h is within the three periods after which a polled point is called silent
    const silent = steps.filter(({ from, to }) => to - from > seconds(3 * 3600));
    const { events } = fold(found);
    const gaps = events.filter(({ kind }) => kind === 'telemetry-gap');
    expect(gaps.map(({ start, end }) => ({ from: start.latest, to: end!.latest }))).toEqual(silent);
    const within = ({ from, to }: { from: Instant; to: Instant }) =>
      events.filter(
        ({ kind, start }) => kind !== 'telemetry-gap' && start.latest > from && start.latest < to,
      );
    expect(silent.flatMap(within)).toEqual([]);
    expect(new Set(events.map(({ kind }) => kind))).toEqual(new Set(['high-temperature', 'telemetry-gap']));
  });
});
