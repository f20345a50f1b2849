import { describe, expect, it } from 'vitest';
import { unitSettings } from '../../server/status/settings.ts';
import type { SettingSeen } from '../../shared/inference/standing.ts';
import { OUTPUT, oneUnit } from '../fixtures/unit-record.ts';

/** Assumed, recorded, proven (handbook 2.1, 4 rule 8): ± the larger of 5 % and the 10 s of a hand-set dial. */
const seen = (low: number, high: number): SettingSeen => ({
  setting: 'offDelay',
  seconds: [low, high],
  gaps: 3,
});
const offDelay = (protection: object, ...brackets: SettingSeen[]) =>
  unitSettings(oneUnit([OUTPUT], protection).units[0]!.protection, brackets).find(
    ({ name }) => name === 'offDelay',
  )!;

describe('how a setting is known', () => {
  it('a default that nobody wrote down is assumed, one that was is recorded', () => {
    expect(offDelay({ offDelay: undefined }).known).toBe('assumed');
    expect(offDelay({ offDelay: 210 }).known).toBe('recorded');
  });

  it('restarts after 209.9 to 210.2 s prove 210 s, recorded or not', () => {
    const proven = { value: 210, known: 'proven', bracket: [209.9, 210.2], gaps: 3 };
    expect(offDelay({ offDelay: 210 }, seen(209.91, 210.17))).toMatchObject(proven);
    expect(offDelay({ offDelay: undefined }, seen(209.91, 210.17))).toMatchObject(proven);
  });

  it('restarts after 178 to 182 s speak against a recorded 210 s, and prove nothing of it', () => {
    const found = offDelay({ offDelay: 210 }, seen(178, 182));
    expect(found).toMatchObject({ value: 210, known: 'recorded', bracket: [178, 182], disagrees: true });
  });

  it('a bracket of one poll of 30 s either way holds other settings too: seen, not proven', () => {
    const found = offDelay({ offDelay: 210 }, seen(180, 240));
    expect(found).toMatchObject({ known: 'recorded', bracket: [180, 240] });
    expect(found.disagrees).toBeUndefined();
  });

  it('the power-up delay follows from three settings: 120 s + 0.10 × 210 s = 141 s (handbook 2.1, worked)', () => {
    const { protection } = oneUnit([OUTPUT], { offDelay: 210, powerUpBase: 120, powerUpShare: 0.1 })
      .units[0]!;
    const row = (all: readonly SettingSeen[]) =>
      unitSettings(protection, all).find(({ name }) => name === 'powerUpDelay')!;
    expect(row([])).toMatchObject({ value: 141, known: 'recorded' });
    expect(row([{ setting: 'powerUpDelay', seconds: [140.8, 141.2], gaps: 1 }]).known).toBe('proven');
  });
});
