import { expect, test } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { stripOf, type StripEvent } from '../../shared/wire/strip.ts';

const DELAYS = { offDelaySeconds: 210, powerUpDelaySeconds: 141 };
const WINDOW = { from: seconds(0), to: seconds(7200) };

const event = (kind: StripEvent['kind'], start: number, end: number | null): StripEvent => ({
  id: `${kind}-${start}`,
  kind,
  certainty: 'certain',
  start: seconds(start),
  end: end === null ? null : seconds(end),
});

const drawn = (...events: StripEvent[]): string[] =>
  stripOf(events, DELAYS, WINDOW).phases.map(({ phase, start, end }) => `${phase} ${start}–${end}`);

test('after a run comes the off-cycle delay, then nothing: the unit is ready', () => {
  expect(drawn(event('compressor-run', 100, 700))).toEqual(['running 100–700', 'off-delay 700–910']);
});

test('a start ends the delay early', () => {
  expect(drawn(event('compressor-run', 100, 700), event('compressor-run', 800, null))).toEqual([
    'running 100–700',
    'off-delay 700–800',
    'running 800–7200',
  ]);
});

test('a lockout lies over the delay, and the delay shows on either side of it', () => {
  expect(drawn(event('compressor-run', 100, 500), event('soft-lockout', 500, 600))).toEqual([
    'running 100–500',
    'soft-lockout 500–600',
    'off-delay 600–710',
  ]);
});

test('after a power loss comes the power-up delay, whatever the run before it left over', () => {
  expect(drawn(event('compressor-run', 100, 1000), event('power-loss', 1000, 1040))).toEqual([
    'running 100–1000',
    'no-power 1000–1040',
    'power-up-delay 1040–1181',
    'off-delay 1181–1210',
  ]);
});

test('what is outside the window is left out, and what crosses it is cut', () => {
  expect(drawn(event('compressor-run', -300, -200), event('hard-lockout', -50, null))).toEqual([
    'hard-lockout 0–7200',
  ]);
});

test('silence covers everything, for nothing is known under it', () => {
  expect(drawn(event('compressor-run', 100, 900), event('telemetry-gap', 200, 300))).toEqual([
    'running 100–200',
    'not-known 200–300',
    'running 300–900',
    'off-delay 900–1110',
  ]);
});
