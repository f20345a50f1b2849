import { describe, expect, test } from 'vitest';
import { inSeconds, parseInstant } from '../../shared/base/instant.ts';
import { catalogueOf, decodeWith, type Received } from '../fixtures/decode.ts';

/** What a message shows of its gateway's clock: the newest time that it claims, however it is taken. */
const document = (clockOffsets: readonly object[] = []) => ({
  timeZone: 'UTC',
  gateways: [{ id: 'east', clockOffsets }],
  panels: [{ id: 'panel-a' }],
  units: [{ id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }] }],
});
const NOW = '2026-03-02T08:00:00.000Z';
const call = (payload: unknown, more: Partial<Received> = {}): Received => ({
  topic: 'holdoff/rowan/unit-1/cooling-call',
  payload: JSON.stringify(payload),
  receivedAt: NOW,
  ...more,
});
const claimed = (received: Received, offsets: readonly object[] = []) => {
  const decoded = decodeWith(catalogueOf('rowan', [null, document(offsets)]), received);
  const newest = [...decoded.claimed].map(([{ id }, t]) => [id, inSeconds(t - parseInstant(NOW)!)]);
  return { newest: Object.fromEntries(newest) as object, taken: decoded.samples.length };
};

describe('what a message shows of its gateway’s clock', () => {
  test('the newest of its times', () => {
    const samples = [
      { t: '2026-03-02T07:00:00Z', v: 0 },
      { t: '2026-03-02T07:59:59Z', v: 1 },
    ];
    expect(claimed(call(samples))).toEqual({ newest: { east: -1 }, taken: 2 });
    const heartbeat = { topic: 'holdoff/rowan/east/heartbeat', payload: `{"t":"2026-03-02T08:00:02Z"}` };
    expect(claimed(call(null, heartbeat)).newest).toEqual({ east: 2 });
  });

  test('also those that are set aside for lying in the future, up to a day', () => {
    expect(claimed(call({ t: '2026-03-02T08:06:00Z', v: 1 }))).toEqual({ newest: { east: 360 }, taken: 0 });
    expect(claimed(call({ t: '2036-03-02T08:06:00Z', v: 1 }))).toEqual({ newest: {}, taken: 0 });
  });

  test('nothing where none is claimed, or the message may have waited', () => {
    expect(claimed(call(1))).toEqual({ newest: {}, taken: 1 });
    expect(claimed(call(null, { topic: 'holdoff/rowan/east/heartbeat', payload: '{}' })).newest).toEqual({});
    const sample = { t: '2026-03-02T07:59:59Z', v: 1 };
    expect(claimed(call(sample, { waited: 'before-marker' }))).toEqual({ newest: {}, taken: 1 });
  });

  test('a clock that is 6 min ahead is taken once its offset is configured', () => {
    const offsets = [{ from: 'always', seconds: -360 }];
    expect(claimed(call({ t: '2026-03-02T08:06:00Z', v: 1 }), offsets).taken).toBe(1);
    expect(claimed(call({ t: '2026-03-02T08:12:00Z', v: 1 }), offsets).taken).toBe(0);
  });
});
