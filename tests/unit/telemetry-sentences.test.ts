import { describe, expect, test } from 'vitest';
import { isWell, telemetrySentence, type TelemetryFacts } from '../../shared/wire/telemetry-sentences.ts';
import { dayRate, latenessText, oddText, rateText } from '../../web/src/telemetry/telemetry-words.ts';
import { tracePath } from '../../web/src/telemetry/trace.ts';

const WELL: TelemetryFacts = {
  ...{ points: 41, silent: 0, never: 0 },
  gateways: [{ id: 'gateway-1', isSilent: false, behindSeconds: null, isCatchingUp: false }],
  setAside: { count: 0, topics: 0 },
};
const gateway = (
  id: string,
  isSilent: boolean,
  behindSeconds: number | null = null,
  isCatchingUp = false,
) => ({
  ...{ id, isSilent, behindSeconds, isCatchingUp },
});

describe('the first line of how telemetry comes in', () => {
  test.each<[string, Partial<TelemetryFacts>, string]>([
    ['all is well', {}, 'All 41 points are heard.'],
    ['nothing is configured', { points: 0, gateways: [] }, 'No point is configured.'],
    ['one point', { points: 1 }, 'The one point is heard.'],
    ['one is silent', { silent: 1 }, '1 of 41 points is silent.'],
    ['some were never heard', { never: 2 }, '2 of 41 points were never heard.'],
    [
      'all at once',
      {
        ...{ silent: 3, never: 1 },
        gateways: [gateway('gateway-1', false), gateway('gateway-2', false, 250)],
        setAside: { count: 12, topics: 1 },
      },
      '3 of 41 points are silent, 1 was never heard; gateway-2 is 4 min behind; 12 entries were set aside in the last 24 h, all from one topic.',
    ],
    [
      'gateways are silent',
      { gateways: [gateway('east', true), gateway('west', true)] },
      'All 41 points are heard; east and west are silent.',
    ],
    [
      'one waits, others deliver a backlog',
      { gateways: [gateway('a', false, 120), ...['b', 'c'].map((id) => gateway(id, false, 9e4, true))] },
      'All 41 points are heard; a is 2 min behind; b and c deliver what they held.',
    ],
    [
      'many gateways are silent',
      {
        gateways: ['a', 'b', 'c', 'd'].map((id) => gateway(id, true)),
        setAside: { count: 1_234, topics: 7 },
      },
      'All 41 points are heard; 4 gateways are silent; 1,234 entries were set aside in the last 24 h, from 7 topics.',
    ],
  ])('%s', (_, facts, says) => expect(telemetrySentence({ ...WELL, ...facts })).toBe(says));

  test('well is: nobody silent, nobody behind', () => {
    expect(isWell(WELL)).toBe(true);
    expect(isWell({ ...WELL, never: 1 })).toBe(false);
    expect(isWell({ ...WELL, gateways: [gateway('g', false, 61)] })).toBe(false);
  });
});

test('rates, lateness and shares read as people say them', () => {
  expect([0, 12, 59.96, 0.25, 0.05, 1 / 60].map(rateText)).toEqual(
    ['none', '12 a minute', '60 a minute', '0.3 a minute', '3 an hour', '1 an hour'], // prettier-ignore
  );
  expect([0.21, 250, -90].map(latenessText)).toEqual([
    '0.2 s late',
    '4 min late',
    '1 min ahead of our clock',
  ]);
  const day = { samples: 200, seconds: 995, uncertain: 4, bad: 0, conflicts: 1 };
  expect(dayRate(day)).toBeCloseTo(12, 6);
  expect(oddText(day)).toBe('2 % uncertain, 1 in conflict: two values for one instant');
  expect(oddText({ ...day, uncertain: 0, bad: 200, conflicts: 0 })).toBe('all bad');
});

test('a trace holds a contact’s value and begins with what held before', () => {
  const values = [{ t: -50, v: 0 }, { t: 50, v: 1 }, { t: 200, v: 0 }]; // prettier-ignore
  const frame = { from: 0, to: 100, width: 100, height: 10 };
  const steps = tracePath(values, frame, true);
  expect(steps).toMatch(/^M0,[\d.]+H50V[\d.]+H100$/);
  expect(tracePath([], frame, true)).toBe('');
});
