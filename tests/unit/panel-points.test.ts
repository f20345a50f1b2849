import { describe, expect, it } from 'vitest';
import { readingOf } from '../../shared/inference/members/queue.ts';
import { BAD, CONFLICT, GOOD, UNCERTAIN } from '../../shared/telemetry/sample.ts';
import type { Point } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

function pointOf(point: object): Point {
  const parsed = parseConfiguration('rowan', {
    timeZone: 'UTC',
    panels: [{ id: 'panel-a', points: [point] }],
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site.panels[0]!.points[0]!;
}

describe('a panel’s own sample', () => {
  it.each([
    ['normally-open', 1, 1],
    ['normally-open', 0, 0],
    ['normally-closed', 1, 0],
    ['normally-closed', 0, 1],
  ])('of a %s contact, %d as the gateway sees it, asserts %d', (contact, raw, asserted) => {
    expect(readingOf(pointOf({ signal: 'utility-failed', contact }), raw, GOOD)).toBe(asserted);
  });

  it('is scaled, then offset, then held against its range', () => {
    const point = pointOf({ signal: 'line-voltage', scale: 0.1, offset: 5, range: [0, 300] });
    expect(readingOf(point, 2350, GOOD)).toBe(240);
    expect(readingOf(point, 2951, GOOD)).toBeNull();
  });

  it.each([UNCERTAIN, BAD, UNCERTAIN | CONFLICT])('decides nothing with quality %d', (quality) => {
    expect(readingOf(pointOf({ signal: 'line-voltage' }), 240, quality)).toBeNull();
  });
});
