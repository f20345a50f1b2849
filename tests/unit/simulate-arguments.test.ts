import { describe, expect, it } from 'vitest';
import { readArguments } from '../../server/demo/simulate-arguments.ts';
import { SECOND } from '../../shared/base/instant.ts';

const NOW = Date.UTC(2026, 7, 26, 12) * 1000;
const helpOf = (...list: string[]): string => {
  const read = readArguments(list, NOW);
  if (read.ok) throw new Error('taken');
  return read.help;
};
const valueOf = (...list: string[]) => {
  const read = readArguments(list, NOW);
  if (!read.ok) throw new Error(read.help);
  return read.value;
};

describe('npm run simulate', () => {
  it.each([
    [[], 'Scenarios:'],
    [['nope'], 'There is no scenario "nope".'],
    [['quiet-day', 'blocked-coil'], 'One scenario at a time'],
    [['quiet-day', '--speed', '0'], '--speed takes a number above 0'],
    [['quiet-day', '--broker', 'localhost'], '--broker takes an address'],
    [['quiet-day', '--start', 'yesterday'], '--start takes a time with its zone'],
    [['quiet-day', '--suffix', 'A B'], '--suffix takes'],
    [['quiet-day', '--colour'], '--colour'],
  ])('%j: says what is wrong, and what there is', (list, says) => {
    expect(helpOf(...list)).toContain(says);
    expect(helpOf(...list)).toContain('blocked-coil');
  });

  it('begins now at a walking pace, and else so that it ends now', () => {
    expect(valueOf('blocked-coil').start).toBe(NOW);
    expect(valueOf('blocked-coil', '--speed', 'max')).toMatchObject({
      speed: Infinity,
      start: NOW - 4 * 3600 * SECOND,
    });
    expect(valueOf('blocked-coil', '--speed', '60', '--hours', '1').start).toBe(NOW - 3600 * SECOND);
    expect(valueOf('blocked-coil', '--start', '2026-03-02T08:15:00Z').start).toBe(
      Date.UTC(2026, 2, 2, 8, 15) * 1000,
    );
  });
});
