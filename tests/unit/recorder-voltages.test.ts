import { describe, expect, it } from 'vitest';
import { evenStretches } from '../../shared/recorder/even-stretches.ts';
import { legsOf, proposeVoltages } from '../../shared/recorder/propose-voltages.ts';
import { MOST_BYTES, readRecording } from '../../shared/recorder/read-recording.ts';
import { recordedRms } from '../../shared/recorder/recorded-rms.ts';
import type { Recording } from '../../shared/recorder/recording.ts';
import { resolveSite } from '../../shared/wire/resolve-site.ts';
import { writeRecording, type WrittenAnalog, type WrittenRecording } from '../fixtures/recorder-file.ts';

const panelWith = (signals: readonly string[], phases: 1 | 3, nominalVoltage: number) =>
  resolveSite('a', {
    timeZone: 'UTC',
    panels: [
      {
        id: 'p',
        nominalVoltage,
        phases,
        points: signals.map((signal) => ({ signal: signal as 'line-voltage' })),
      },
    ],
  }).panels[0]!;

const SAMPLES = 240;
/** Sines of so many volts RMS at 60 Hz, sampled at 1,200 Hz. */
const sine = (
  name: string,
  rms: number,
  degrees: number,
  more: Partial<WrittenAnalog> = {},
): WrittenAnalog => ({
  name,
  multiplier: 0.1,
  offset: 0,
  stored: Array.from({ length: SAMPLES }, (_, i) =>
    Math.round(10 * rms * Math.SQRT2 * Math.sin((2 * Math.PI * i) / 20 + (degrees * Math.PI) / 180)),
  ),
  ...more,
});

const fileOf = (
  analog: readonly WrittenAnalog[],
  more: Partial<WrittenRecording> = {},
): WrittenRecording => ({
  revision: 1999,
  format: 'ASCII',
  frequency: 60,
  analog,
  digital: [],
  samples: SAMPLES,
  rates: [{ perSecond: 1200, last: SAMPLES }],
  stamps: Array.from({ length: SAMPLES }, (_, i) => Math.round((i * 1e6) / 1200)),
  multiplier: 1,
  start: '17/05/2026,05:33:03.000000',
  trigger: '17/05/2026,05:33:03.100000',
  ...more,
});

function readBack(what: WrittenRecording): Recording {
  const outcome = readRecording(writeRecording(what));
  if (outcome.kind === 'refused') throw new Error(JSON.stringify(outcome.faults));
  return outcome.recording;
}

describe('which channel is which voltage', () => {
  it.each([
    ['U21', '', 'ab'],
    ['U32', '', 'bc'],
    ['Vca', '', 'ca'],
    ['V A-B', '', 'ab'],
    ['L1L2', '', 'ab'],
    ['V1', '', 'a'],
    ['Ub', '', 'b'],
    ['F5-VA', 'A', 'a'],
    ['Main', '', null],
  ])('%s %s is between %s', (name, phase, legs) => {
    expect(legsOf({ name, phase })).toBe(legs);
  });

  it('takes line to line as it is written, by name', () => {
    const panel = panelWith(['line-voltage-ab', 'line-voltage-bc', 'line-voltage-ca'], 3, 480);
    const recording = readBack(
      fileOf([sine('Ubc', 478, -120), sine('Uab', 481, 0), sine('Ia', 40, 0, { measure: 'A' })]),
    );
    expect(
      proposeVoltages(recording, panel).map(({ signal, channel, minus }) => [signal, channel, minus]),
    ).toEqual([
      ['line-voltage-ab', 1, null],
      ['line-voltage-bc', 0, null],
    ]);
  });

  it('makes line to line of two legs to neutral', () => {
    const panel = panelWith(['line-voltage-ab', 'line-voltage-ca'], 3, 480);
    const legs = [sine('Va', 277.1, 0), sine('Vb', 277.1, -120), sine('Vc', 277.1, 120)];
    const proposals = proposeVoltages(readBack(fileOf(legs)), panel);
    expect(proposals.map(({ signal, channel, minus }) => [signal, channel, minus])).toEqual([
      ['line-voltage-ab', 0, 1],
      ['line-voltage-ca', 2, 0],
    ]);
    expect(proposals[0]!.volts).toBeCloseTo(480, 0);
  });

  it('takes 120 V legs of a single-phase panel together to its 240 V', () => {
    const panel = panelWith(['line-voltage'], 1, 240);
    const [proposal] = proposeVoltages(readBack(fileOf([sine('V1', 120, 0), sine('V2', 120, 180)])), panel);
    expect(proposal).toMatchObject({ signal: 'line-voltage', channel: 0, minus: 1, scale: 1 });
    expect(proposal!.volts).toBeCloseTo(240, 0);
  });

  it('goes across the measuring transformer where that brings it to the panel’s voltage', () => {
    const panel = panelWith(['line-voltage'], 1, 480);
    const behind = sine('V', 120, 0, { primary: 480, secondary: 120, side: 'S' });
    expect(proposeVoltages(readBack(fileOf([behind])), panel)[0]).toMatchObject({ channel: 0, scale: 4 });
  });

  it('proposes nothing where nothing is near the panel’s voltage', () => {
    const panel = panelWith(['line-voltage'], 1, 240);
    expect(proposeVoltages(readBack(fileOf([sine('U21', 3000, 0)])), panel)).toEqual([]);
  });
});

describe('RMS of a recording', () => {
  const direct = { channel: 0, minus: null, scale: 1 };

  it('goes on across a change of rate: 600 Hz, then 4,800', () => {
    const times = [
      ...Array.from({ length: 60 }, (_, i) => i / 600),
      ...Array.from({ length: 480 }, (_, i) => 59 / 600 + (i + 1) / 4800),
    ];
    const stored = times.map((t) => Math.round(3000 * Math.sin(2 * Math.PI * 60 * t)));
    const recording = readBack(
      fileOf([{ name: 'V', multiplier: 0.1, offset: 0, stored }], {
        samples: times.length,
        rates: [
          { perSecond: 600, last: 60 },
          { perSecond: 4800, last: 540 },
        ],
        stamps: times.map(() => null),
      }),
    );
    const { t, rms } = recordedRms(recording, direct, 0, 60);
    const gaps = t.slice(1).map((at, i) => (at - t[i]!) / 1e6);
    expect(Math.max(...gaps)).toBeLessThan(1.5 / 120);
    for (const value of rms) expect(value / (300 / Math.SQRT2)).toBeCloseTo(1, 2);
  });

  it('lays time stamps that jitter on an even grid', () => {
    const stamps = Array.from({ length: SAMPLES }, (_, i) =>
      Math.round((i * 1e6) / 1200 + 60 * Math.sin(i * i)),
    );
    stamps[0] = 0;
    const stored = stamps.map((t) => Math.round(3000 * Math.sin(2 * Math.PI * 60e-6 * t)));
    const recording = readBack(
      fileOf([{ name: 'V', multiplier: 0.1, offset: 0, stored }], { rates: null, stamps }),
    );
    const { rms } = recordedRms(recording, direct, 0, 60);
    expect(rms.length).toBeGreaterThan(18);
    for (const value of rms) expect(value / (300 / Math.SQRT2)).toBeCloseTo(1, 2);
  });

  it('ends a stretch at a missing value and at a hole in the time stamps', () => {
    const recording = readBack(
      fileOf([sine('V', 240, 0)], {
        rates: null,
        stamps: Array.from(
          { length: SAMPLES },
          (_, i) => Math.round((i * 1e6) / 1200) + (i >= 100 ? 50_000 : 0),
        ),
      }),
    );
    const values = recording.analog[0]!.values.slice();
    values[200] = NaN;
    expect(evenStretches(recording, values).map((stretch) => stretch.values.length)).toEqual([100, 100, 39]);
  });
});

describe('bounds', () => {
  it('a file that is too large is refused, and told what to do', () => {
    const outcome = readRecording([{ name: 'a.cfg', bytes: new Uint8Array(MOST_BYTES + 1) }]);
    expect(outcome).toEqual({
      kind: 'refused',
      faults: [
        { code: 'too-large', says: 'The files are larger than 4 MB together. Export a shorter stretch.' },
      ],
    });
  });

  it('short rows that would make more values than are read are refused', () => {
    const channels = Array.from({ length: 1900 }, (_, i) => sine(`V${i}`, 240, 0, { stored: [0] }));
    const [configuration] = writeRecording(fileOf(channels, { samples: 1, stamps: [0] }));
    const bytes = Uint8Array.from('1,\n'.repeat(10_000), (letter) => letter.charCodeAt(0));
    const outcome = readRecording([configuration!, { name: 'a.dat', bytes }]);
    expect(outcome.kind).toBe('refused');
    expect(outcome.faults.map(({ code }) => code)).toContain('too-large');
  });
});
