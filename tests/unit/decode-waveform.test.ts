import { describe, expect, it } from 'vitest';
import { catalogueOf, decodeWith, told } from '../fixtures/decode.ts';

/** Waveforms (contract 1.1): half-cycle values as samples, the waveform kept; what can't be one is refused with its reason. */
const CATALOGUE = catalogueOf('rowan', [
  null,
  {
    timeZone: 'UTC',
    panels: [
      { id: 'panel-a', frequency: 60, points: [{ signal: 'line-voltage' }, { signal: 'utility-failed' }] },
    ],
    units: [{ id: 'unit-1', panel: 'panel-a', points: [{ signal: 'supply-air-temperature' }] }],
  },
]);
const LINE = 'holdoff/rowan/panel-a/line-voltage';
const T0 = '2026-03-02T08:15:00.000Z';
const decoded = (topic: string, body: object) =>
  decodeWith(CATALOGUE, { topic, payload: JSON.stringify(body), receivedAt: '2026-03-02T08:15:01.000Z' });
const refusals = (topic: string, body: object): string[] =>
  decoded(topic, body).rejected.map(({ reason, detail }) => `${reason}: ${detail}`);

/** 240 V, to 168 V for 5 cycles from cycle 4 on, as a gateway's whole numbers of tenths of a volt. */
const wave = (from: number, to: number): number[] =>
  Array.from({ length: to - from }, (_, k) => {
    const cycle = (from + k) / 128;
    const volts = (cycle >= 4 && cycle < 9 ? 168 : 240) * Math.SQRT2 * Math.sin(2 * Math.PI * cycle);
    return Math.round(volts * 10);
  });
const DT = 1 / (60 * 128);
const whole = { t0: T0, dt: DT, w: wave(0, 16 * 128 + 1), scale: 0.1 };

describe('a waveform', () => {
  it('becomes half-cycle values of its point, at the middle of their windows, and is kept', () => {
    const { samples, waveforms, rejected } = decoded(LINE, whole);
    expect(rejected).toEqual([]);
    expect(samples.length).toBeGreaterThanOrEqual(30);
    const low = samples.filter(({ value }) => value < 0.9 * 240);
    // 0.863134, 9 × 0.7, 0.863134 of 240 V [handbook 9]
    expect(low.map(({ value }) => Math.round(value))).toEqual([
      207, 168, 168, 168, 168, 168, 168, 168, 168, 168, 207,
    ]);
    expect(waveforms).toMatchObject([{ scale: 0.1, stepSeconds: DT }]);
    expect(waveforms[0]!.values).toHaveLength(16 * 128 + 1);
  });

  it('sent in two messages shows the same dip: its cut ends invent none', () => {
    for (const cut of [500, 640, 777, 1_000, 1_300]) {
      const first = decoded(LINE, { ...whole, w: wave(0, cut) });
      const t0 = Date.parse(T0) + cut * DT * 1000;
      const second = decoded(LINE, { ...whole, t0, w: wave(cut, 16 * 128 + 1) });
      const values = [...first.samples, ...second.samples].map(({ value }) => value);
      const least = cut === 640 ? 168 : 167.9;
      expect(Math.min(...values)).toBeGreaterThan(least - 0.1);
      expect(values.filter((value) => value < 216 && value > 208)).toEqual([]);
    }
  });

  it('again gives the same samples', () => {
    expect(told(decoded(LINE, whole))).toEqual(told(decoded(LINE, whole)));
  });

  it.each<[string, string, object, string]>([
    ['no step', LINE, { ...whole, dt: undefined }, 'waveform-step'],
    ['a step of nothing', LINE, { ...whole, dt: 0 }, 'waveform-step'],
    ['a step backwards', LINE, { ...whole, dt: -DT }, 'waveform-step'],
    ['too few values a cycle', LINE, { ...whole, dt: 1 / 400 }, 'waveform-step'],
    ['longer than a minute', LINE, { ...whole, dt: 1 / 500, w: wave(0, 30_001) }, 'waveform-step'],
    ['no values', LINE, { ...whole, w: [] }, 'waveform-empty'],
    ['no list', LINE, { ...whole, w: 'sine' }, 'waveform-empty'],
    ['a value that is none', LINE, { ...whole, w: [1, null, 3] }, 'value-not-known'],
    ['no finite scale', LINE, { ...whole, scale: null }, 'value-not-known'],
    ['no time', LINE, { ...whole, t0: undefined }, 'time-not-known'],
    ['too many values', LINE, { ...whole, w: wave(0, 100_001) }, 'too-many-entries'],
    ['in the future', LINE, { ...whole, t0: '2026-03-02T08:25:00Z' }, 'time-in-future'],
    ['of a contact', 'holdoff/rowan/panel-a/utility-failed', whole, 'waveform-not-here'],
    ['of a temperature', 'holdoff/rowan/unit-1/supply-air-temperature', whole, 'waveform-not-here'],
  ])('%s: set aside, with its reason', (_, topic, body, reason) => {
    const said = refusals(topic, body);
    expect(said).toHaveLength(1);
    expect(said[0]).toMatch(new RegExp(`^${reason}: `));
    expect(decoded(topic, body).samples).toEqual([]);
  });

  it('shorter than a cycle tells nothing, and is kept', () => {
    const { samples, waveforms, rejected } = decoded(LINE, { ...whole, w: wave(0, 100) });
    expect([samples.length, waveforms.length, rejected.length]).toEqual([0, 1, 0]);
  });
});
