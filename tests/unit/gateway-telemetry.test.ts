import { describe, expect, test } from 'vitest';
import type { LatenessRow } from '../../db/read-telemetry.ts';
import { gatewayTelemetry } from '../../server/telemetry/gateway-telemetry.ts';
import type { Setup } from '../../server/follow/setup.ts';
import { seconds } from '../../shared/base/instant.ts';

/** What is late evenly waits on its way; what is late by days, then hours, then minutes is a backlog being delivered. */
const SETUP = { id: 'rowan', history: [] } as unknown as Setup;
const NOW = seconds(1_790_000_000);
const told = (late: Partial<LatenessRow>, lifeSecondsAgo: number) => {
  const row: LatenessRow = {
    ...{
      site: 'rowan',
      gateway: 'west',
      recent: 100,
      recentMedianMs: 0,
      recentLeastMs: 0,
      newestMedianMs: 0,
    },
    ...{ day: 100, dayMedianMs: 0, dayLeastMs: 0 },
    ...late,
  };
  const life = { t: NOW - seconds(lifeSecondsAgo) };
  const { behindSeconds, isCatchingUp } = gatewayTelemetry(SETUP, 'west', {
    ...{ gap: undefined, late: row, life, now: NOW },
  });
  return { behindSeconds, isCatchingUp };
};
const HOUR = 3_600_000;

describe('a gateway whose messages come late', () => {
  test('evenly, is behind', () => {
    const late = { recentMedianMs: 250_000, recentLeastMs: 249_500, newestMedianMs: 250_000 };
    expect(told(late, 250)).toEqual({ behindSeconds: 250, isCatchingUp: false });
  });
  test('later and later, is behind', () => {
    const late = { recentMedianMs: 250_000, recentLeastMs: 100_000, newestMedianMs: 400_000 };
    expect(told(late, 400)).toEqual({ behindSeconds: 400, isCatchingUp: false });
  });
  test('with times that go faster than the clock, delivers what it held', () => {
    const late = { recentMedianMs: 80 * HOUR, recentLeastMs: 40 * HOUR, newestMedianMs: 60 * HOUR };
    expect(told(late, 40 * 3_600)).toEqual({ behindSeconds: 216_000, isCatchingUp: true });
  });
  test('in its first minute of it, too', () => {
    const late = { recentMedianMs: 80 * HOUR, recentLeastMs: 40 * HOUR, newestMedianMs: 80 * HOUR };
    expect(told(late, 40 * 3_600)).toMatchObject({ isCatchingUp: true });
  });
  test('and has come up to now, is behind no longer, though its last two minutes were', () => {
    const late = { recentMedianMs: 80 * HOUR, recentLeastMs: 200, newestMedianMs: 60 * HOUR };
    expect(told(late, 2)).toEqual({ behindSeconds: null, isCatchingUp: false });
  });
});
