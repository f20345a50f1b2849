import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { overAfter, plannedPowerUp, powerUpBounds } from '../../shared/inference/members/wired.ts';
import { spacingBounds, spacingVerdict, tellingPeriod } from '../../shared/inference/panel/spacing.ts';
import { lineLevel } from '../../shared/inference/panel/supply.ts';
import type { Protection } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

const span = (earliest: number, latest: number) => ({ earliest: seconds(earliest), latest: seconds(latest) });
const pair = (a: readonly [number, number], b: readonly [number, number], doubt = 0) => ({
  a: span(...a),
  b: span(...b),
  doubt,
});

function protectionOf(offDelay: number | null): Protection {
  const parsed = parseConfiguration('rowan', {
    timeZone: 'UTC',
    panels: [{ id: 'panel-a' }],
    units: [{ id: 'unit-1', panel: 'panel-a', ...(offDelay === null ? {} : { protection: { offDelay } }) }],
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site.units[0]!.protection;
}

describe('spacing of two starts (handbook 5.3)', () => {
  const rows = [
    { of: pair([100, 100], [101, 101]), bounds: [1, 1], verdict: 'simultaneous' },
    { of: pair([101, 101], [100, 100]), bounds: [1, 1], verdict: 'simultaneous' },
    { of: pair([100, 100], [102, 102]), bounds: [2, 2], verdict: 'separate' },
    { of: pair([100, 101], [101, 102]), bounds: [0, 2], verdict: 'cannot-be-told' },
    { of: pair([100, 110], [100, 110]), bounds: [0, 10], verdict: 'cannot-be-told' },
    { of: pair([100, 105], [110, 115]), bounds: [5, 15], verdict: 'separate' },
    { of: pair([100, 100], [101, 101], 1), bounds: [0, 2], verdict: 'cannot-be-told' },
    { of: pair([100, 100], [104, 104], 2), bounds: [2, 6], verdict: 'separate' },
  ] as const;
  it.each(rows)('$of.a and $of.b: $verdict', ({ of, bounds, verdict }) => {
    expect(spacingBounds(of)).toEqual(bounds);
    expect(spacingVerdict(spacingBounds(of), 2)).toBe(verdict);
  });

  it('names the period that would tell: 1 s for starts 3 s apart at a minimum of 2 s', () => {
    expect(tellingPeriod(3, 2)).toBe(1);
    expect(tellingPeriod(0, 2)).toBe(2);
    expect(tellingPeriod(2.05, 2)).toBe(0);
  });
});

describe('the power-up delay (handbook 2.1, worked)', () => {
  it.each([
    [210, 141],
    [30, 123],
    [300, 150],
  ])('at an off-cycle delay of %d s waits %d s', (offDelay, expected) => {
    expect(plannedPowerUp(protectionOf(offDelay))).toBe(seconds(expected));
  });

  it.each([
    [30, 3],
    [20, 2],
  ])('two units set %d s apart wait %d s apart', (apart, expected) => {
    const [slow, quick] = [plannedPowerUp(protectionOf(210 + apart)), plannedPowerUp(protectionOf(210))];
    expect(slow - quick).toBe(seconds(expected));
  });

  it('has its timer’s and its dial’s tolerance about a recorded setting', () => {
    expect(powerUpBounds(protectionOf(210))).toEqual([seconds(140 * 0.95), seconds(142 * 1.05)]);
  });

  it('may be anything within the dial’s range where the setting is only assumed', () => {
    expect(powerUpBounds(protectionOf(null))).toEqual([seconds(123 * 0.95), seconds(150 * 1.05)]);
  });

  it('ends within what its beginning and its length allow', () => {
    expect(overAfter(span(0, 5), [seconds(10), seconds(12)])).toEqual(span(10, 17));
  });
});

describe('line voltage (IEC 61000-4-30: interruption below 10 %, over at 12 % with 2 % hysteresis)', () => {
  it.each([
    [240, 1, 1],
    [24, 1, 1],
    [23.9, 1, 0],
    [28.7, 0, 0],
    [28.8, 0, 1],
    [26, null, 1],
  ])('%d V of 240 V after %s: %d', (volts, was, level) => {
    expect(lineLevel(volts, 240, was)).toBe(level);
  });
});
