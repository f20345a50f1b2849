import { describe, expect, test } from 'vitest';
import { meetsSounder, refusedRoot } from '../../shared/wire/sounder-topics.ts';

describe('a root for stack lights', () => {
  test.each(['holdoff-sounder', 'plant/lamps', 'holdoff2'])('%s', (root) => {
    expect(refusedRoot(root, 'holdoff')).toBeNull();
  });
  test.each([
    ['holdoff', /telemetry comes under holdoff/],
    ['holdoff/lamps', /telemetry comes under holdoff/],
    ['spBv1.0/lamps', /Sparkplug/],
    ['lamps/#', /without wildcards/],
    ['+', /without wildcards/],
    ['$SYS', /without wildcards/],
    ['lamps/', /without wildcards/],
  ])('%s is refused', (root, says) => {
    expect(refusedRoot(root, 'holdoff')).toMatch(says);
  });
  test('nor one that telemetry’s root lies under', () => {
    expect(refusedRoot('plant', 'plant/holdoff')).toMatch(/telemetry comes under plant\/holdoff/);
  });
});

/** MQTT 5 section 4.7: `+` is one word, `#` the rest. */
test.each([
  ['#', true],
  ['+/rowan/state', true],
  ['lamps/#', true],
  ['lamps/rowan/state', true],
  ['lamps', true],
  ['plant/ahu/+/di', false],
  ['lamps2/rowan/state', false],
])('a point that listens to %s: %s', (topic, met) => {
  const document = { units: [{ points: [{ signal: 'cooling-call', source: { topic } }] }] };
  expect(meetsSounder('lamps', document)).toBe(met ? topic : null);
});
