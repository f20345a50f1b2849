import { describe, expect, it } from 'vitest';
import {
  pickSettings,
  powerUpDelay,
  REFERENCE_SETTINGS,
  settingVariants,
} from '../../shared/control/settings.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

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

describe('what the configured settings leave open', () => {
  const protection = (given: object) => {
    const document = {
      timeZone: 'UTC',
      panels: [{ id: 'p' }],
      units: [{ id: 'u', panel: 'p', protection: given }],
    };
    const parsed = parseConfiguration('s', document);
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
    return parsed.site.units[0]!.protection;
  };

  it('is one control where everything is picked, and the reference model where nothing is', () => {
    const { offDelay, powerUpBase, powerUpShare, holdUp, ...ways } = REFERENCE_SETTINGS;
    const given = { offDelay, powerUpBase, powerUpShare, holdUp, ...ways };
    expect(settingVariants(protection(given))).toEqual([REFERENCE_SETTINGS]);
    expect(pickSettings(protection({}))).toEqual(REFERENCE_SETTINGS);
  });

  it('is every combination of what `either` stands for, each once', () => {
    const all = settingVariants(protection({}));
    expect(all).toHaveLength(16);
    expect(new Set(all.map((each) => JSON.stringify(each))).size).toBe(16);
    expect(settingVariants(protection({ stopsCounted: 'by-switch', offDelayFrom: 'stop' }))).toHaveLength(4);
  });
});
