import { expect, test } from 'vitest';
import type { Tuning } from '../../shared/alarms/tuning.ts';
import { tuningChanges, tuningLine } from '../../shared/wire/tuning-sentences.ts';

/** What a change of alarm rules changes, in words, before it is saved. */
const name = (unit: string) => `Room of ${unit}`;

test('a change is told by what holds then: a unit’s own before its site’s, before the rule’s', () => {
  const site: Tuning = [{ rule: 'unit-power-loss', unit: null, onDelaySeconds: 120 }];
  expect(tuningChanges([], site, name)).toEqual(['No control power: on-delay 60 s → 120 s']);
  const unit: Tuning = [
    ...site,
    { rule: 'unit-power-loss', unit: 'unit-1', onDelaySeconds: 90, severity: 'minor' },
  ];
  expect(tuningChanges(site, unit, name)).toEqual([
    'Room of unit-1, No control power: severity major → minor',
    'Room of unit-1, No control power: on-delay 120 s → 90 s',
  ]);
  expect(tuningChanges(unit, unit, name)).toEqual([]);
});

test('a task is switched off; the first line counts what isn’t as usual', () => {
  const off: Tuning = [{ rule: 'short-cycling', unit: null, on: false }];
  expect(tuningChanges([], off, name)).toEqual([
    'Short cycling: three early starts within an hour: switched off',
  ]);
  expect(tuningLine(off, name)).toBe('1 setting of the alarm rules is other than usual here.');
  expect(tuningLine([], name)).toMatch(/^All \d+ alarm rules are as usual here\.$/);
});
