import { describe, expect, it } from 'vitest';
import { powerUpDelay, REFERENCE_SETTINGS } from '../../shared/control/settings.ts';

const wait = (offDelay: number): number => powerUpDelay({ ...REFERENCE_SETTINGS, offDelay });

describe('the power-up delay, handbook 2.1 [common practice, computed]', () => {
  it.each([
    [210, 141],
    [30, 123],
    [300, 150],
  ])('an off-cycle delay of %d s makes it %d s', (offDelay, expected) => {
    expect(wait(offDelay)).toBeCloseTo(expected, 9);
  });

  it('keeps two units set 30 s apart 3 s apart, and 20 s apart 2 s', () => {
    expect(wait(240) - wait(210)).toBeCloseTo(3, 9);
    expect(wait(230) - wait(210)).toBeCloseTo(2, 9);
  });
});
