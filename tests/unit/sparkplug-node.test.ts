import { describe, expect, test } from 'vitest';
import { parseInstant, SECOND } from '../../shared/base/instant.ts';
import { nodeMessage, NodeRun, toldOf, type UMetric, type UPayload } from '../fixtures/sparkplug.ts';

/** An edge node's life as a host application follows it (Sparkplug 3.0 sections 5.4 to 5.9), message by message. */
const T0 = Date.parse('2026-03-02T08:00:00Z');
const at = (seconds: number): number => T0 + seconds * 1_000;

const CALL: UMetric = { name: 'Inputs/call', alias: 1, type: 'Boolean', value: false };
const VOLTS: UMetric = { name: 'volts', alias: 2, type: 'Float', value: 26.5 };

/** Every metric at the time of its message. */
const payload = (seconds: number, seq: number, metrics: UMetric[]): UPayload => ({
  timestamp: at(seconds),
  seq,
  metrics: metrics.map((metric) => ({ timestamp: at(seconds), ...metric })),
});
const bdSeq = (value: number): UMetric => ({ name: 'bdSeq', type: 'UInt64', value });
const nbirth = (seconds: number, session = 0, metrics: UMetric[] = [CALL]) =>
  nodeMessage('nbirth', 'NBIRTH', payload(seconds, 0, [...metrics, bdSeq(session)]));
const ndeath = (session: number) =>
  nodeMessage('ndeath', 'NDEATH', { timestamp: at(0), metrics: [bdSeq(session)] });
const dbirth = (seconds: number, seq: number) =>
  nodeMessage('dbirth', 'DBIRTH', payload(seconds, seq, [VOLTS]), 'meter');
/** As edge nodes send data: an alias, no name, no type. */
const byAlias = (alias: number, value: UMetric['value'], type: UMetric['type'] = 'Boolean') =>
  ({ alias, value, type }) as UMetric;
const ndata = (name: string, seconds: number, seq: number, metrics = [byAlias(1, true)]) =>
  nodeMessage(name, 'NDATA', payload(seconds, seq, metrics));
const ddata = (name: string, seconds: number, seq: number, metrics = [byAlias(2, 27, 'Float')]) =>
  nodeMessage(name, 'DDATA', payload(seconds, seq, metrics), 'meter');

function born(): NodeRun {
  const run = new NodeRun();
  run.take(nbirth(0), 0);
  run.take(dbirth(1, 1), 1);
  return run;
}

describe('births and data', () => {
  test('a birth names what later data call by an alias, the edge node’s own and its devices’', () => {
    const run = new NodeRun();
    expect(run.take(nbirth(0), 0)).toEqual(['nbirth: /Inputs/call false']);
    expect(run.take(dbirth(1, 1), 1)).toEqual(['dbirth: meter/volts 26.5']);
    expect(run.take(ndata('a', 2, 2), 2)).toEqual(['a: /Inputs/call true']);
    expect(run.take(ddata('b', 3, 3), 3)).toEqual(['b: meter/volts 27']);
  });

  test('data before any birth name nothing: they are refused, and a rebirth is asked for', () => {
    expect(new NodeRun().take(ndata('a', 2, 7), 2)).toEqual([
      'a: /? refused, sparkplug-not-born',
      'rebirth: not-born',
    ]);
  });

  test('before a birth, what says its name and its type by itself is taken', () => {
    const run = new NodeRun();
    expect(run.take(ndata('a', 2, 7, [CALL]), 2)).toEqual(['a: /Inputs/call false', 'rebirth: not-born']);
  });

  test('a device whose birth hasn’t come is not known by another’s aliases', () => {
    const run = new NodeRun();
    run.take(nbirth(0), 0);
    expect(run.take(ddata('a', 1, 1, [byAlias(1, true)]), 1)).toEqual([
      'a: meter/? refused, sparkplug-not-born',
      'rebirth: not-born',
    ]);
  });

  test('an alias that the birth gave to two metrics is neither’s', () => {
    const run = new NodeRun();
    run.take(nbirth(0, 0, [CALL, { ...VOLTS, alias: 1 }]), 0);
    expect(run.take(ndata('a', 1, 1), 1)).toEqual([
      'a: /? refused, sparkplug-metric',
      'rebirth: metric-not-born',
    ]);
  });

  test('one metric that can’t be taken costs its neighbours nothing', () => {
    const template: UMetric = { name: 'motor', type: 'Template', value: { metrics: [] } };
    const set: UMetric = {
      name: 'table',
      type: 'DataSet',
      value: { numOfColumns: 1, columns: ['a'], types: ['Int8'], rows: [[1]] },
    };
    const run = new NodeRun();
    expect(run.take(nbirth(0, 0, [template, CALL, set]), 0)).toEqual([
      'nbirth: /motor refused, sparkplug-type',
      'nbirth: /Inputs/call false',
      'nbirth: /table refused, sparkplug-type',
    ]);
  });

  test('a null is a value that isn’t known', () => {
    const run = born();
    expect(run.take(ndata('a', 2, 2, [byAlias(1, null)]), 2)).toEqual(['a: /Inputs/call null bad']);
  });

  test.each([
    [192, ''],
    [0, ' bad'],
    [500, ' bad'],
  ])('quality %i', (quality, bad) => {
    const properties = { Quality: { type: 'Int32' as const, value: quality } };
    const run = born();
    const metrics = [{ ...byAlias(1, true), properties }];
    expect(run.take(ndata('a', 2, 2, metrics), 2)).toEqual([`a: /Inputs/call true${bad}`]);
  });
});

describe('order', () => {
  test('tck-id-operational-behavior-host-reordering-success: what comes early is held until what was missing has come', () => {
    const run = born();
    expect(run.take(ndata('c', 4, 4, [byAlias(1, false)]), 4)).toEqual([]);
    expect(run.take(ndata('b', 3, 3), 4.5)).toEqual([]);
    expect(run.take(ndata('a', 2, 2, [byAlias(1, false)]), 5)).toEqual([
      'a: /Inputs/call false',
      'b: /Inputs/call true',
      'c: /Inputs/call false',
    ]);
    expect(run.node.deadline).toBeNull();
  });

  test('tck-id-operational-behavior-host-reordering-start: when it doesn’t come within the reorder timeout, names are forgotten and a rebirth is asked for', () => {
    const run = born();
    expect(run.take(ndata('b', 4, 3), 4)).toEqual([]);
    expect(run.node.deadline).toBe(run.startAt + 6 * SECOND);
    expect(run.tick(5.9)).toEqual([]);
    expect(run.tick(6)).toEqual([
      '(time): all stale from 2026-03-02T08:00:01.000001Z',
      'b: /? refused, sparkplug-out-of-order',
      'rebirth: out-of-order',
    ]);
    expect(run.take(nbirth(7), 7)).toEqual(['nbirth: /Inputs/call false']);
    expect(run.take(ndata('c', 8, 1), 8)).toEqual(['c: /Inputs/call true']);
  });

  test('255 is followed by 0', () => {
    const run = new NodeRun();
    run.take(nbirth(0), 0);
    for (let seq = 1; seq <= 255; seq++) run.take(ndata(String(seq), seq, seq), seq);
    expect(run.take(ndata('next', 256, 0), 256)).toEqual(['next: /Inputs/call true']);
  });

  test('a copy says nothing again', () => {
    const run = born();
    const a = ndata('a', 2, 2);
    run.take(a, 2);
    expect(run.take(a, 3)).toEqual(['a: nothing']);
    const d = ndata('d', 5, 4);
    expect(run.take(d, 5)).toEqual([]);
    expect(run.take(d, 5)).toEqual(['d: nothing']);
  });

  test('a message without its sequence number has no place', () => {
    const run = born();
    const message = nodeMessage('a', 'NDATA', { timestamp: at(2), metrics: [byAlias(1, true)] });
    expect(run.take(message, 2)).toEqual(['a: refused, sparkplug-sequence', 'rebirth: out-of-order']);
  });

  test('what was sent before a rebirth and comes after it isn’t read with the new names', () => {
    const run = born();
    const late = ndata('late', 2, 1); // the sequence number that comes next in the new session
    run.take(nbirth(3, 0, [{ ...CALL, name: 'Inputs/other' }]), 3);
    expect(run.take(late, 3.1)).toEqual(['late: refused, sparkplug-out-of-order']);
    expect(run.take(ndata('a', 4, 1), 4)).toEqual(['a: /Inputs/other true']);
  });

  test('what has overtaken its birth follows it', () => {
    const run = born();
    expect(run.take(dbirth(11, 1), 11)).toEqual([]);
    expect(run.take(nbirth(10.5, 1), 11.5)).toEqual([
      'nbirth: all stale from 2026-03-02T08:00:01.000001Z',
      'nbirth: /Inputs/call false',
      'dbirth: meter/volts 26.5',
    ]);
  });

  test('a hundred held at once are too many: what is missing is given up', () => {
    const run = born();
    for (let i = 0; i < 100; i++) expect(run.take(ndata(String(i), 4, 3 + i), 4)).toEqual([]);
    expect(run.take(ndata('last', 4, 103), 4)).toContain('rebirth: out-of-order');
  });
});

test('a megabyte held at once is too much, too', () => {
  const run = born();
  const long = { ...CALL, type: 'String' as const, value: 'x'.repeat(600_000) };
  expect(run.take(ndata('a', 4, 3, [long]), 4)).toEqual([]);
  expect(run.take(ndata('b', 4, 4, [long]), 4)).toContain('rebirth: out-of-order');
});

describe('deaths', () => {
  test('an edge node’s death makes all of it stale from after the last that was known', () => {
    const run = born();
    expect(run.take(ndeath(0), 60)).toEqual(['ndeath: all stale from 2026-03-02T08:00:01.000001Z']);
    expect(run.take(ndata('a', 61, 2), 61)[0]).toBe('a: /? refused, sparkplug-not-born');
  });

  test('the death of an older connection means nothing', () => {
    const run = new NodeRun();
    run.take(nbirth(0, 4), 0);
    expect(run.take(ndeath(3), 1)).toEqual(['ndeath: nothing']);
    expect(run.take(ndata('a', 2, 1), 2)).toEqual(['a: /Inputs/call true']);
  });

  // tck-id-operational-behavior-edge-node-termination-host-action-ddeath-devices-tags-stale
  test('a device’s death is that device’s, from when its edge node says', () => {
    const run = born();
    const ddeath = nodeMessage('ddeath', 'DDEATH', { timestamp: at(9), seq: 2, metrics: [] }, 'meter');
    expect(run.take(ddeath, 10)).toEqual(['ddeath: meter stale from 2026-03-02T08:00:09.000Z']);
    expect(run.take(ndata('a', 11, 3), 11)).toEqual(['a: /Inputs/call true']);
    expect(run.take(ddata('b', 12, 4), 12)[0]).toBe('b: meter/? refused, sparkplug-not-born');
  });

  test('a new connection without the old one’s death: what lay between isn’t known', () => {
    const run = born();
    expect(run.take(nbirth(50, 1), 50)).toEqual([
      'nbirth: all stale from 2026-03-02T08:00:01.000001Z',
      'nbirth: /Inputs/call false',
    ]);
  });

  test('a rebirth in place of what was missed: the gap stays a gap', () => {
    const run = born();
    run.take(ndata('b', 4, 3), 4);
    expect(run.take(nbirth(5), 5)).toEqual([
      'b: refused, sparkplug-out-of-order',
      'nbirth: all stale from 2026-03-02T08:00:01.000001Z',
      'nbirth: /Inputs/call false',
    ]);
  });

  test('a rebirth within one connection leaves no gap', () => {
    expect(born().take(nbirth(50), 50)).toEqual(['nbirth: /Inputs/call false']);
  });

  test('the first birth after a restart of ours: nothing is known since what is on record', () => {
    const run = new NodeRun(parseInstant('2026-03-02T07:00:00Z'));
    expect(run.take(nbirth(0), 0)).toEqual([
      'nbirth: all stale from 2026-03-02T07:00:00.000001Z',
      'nbirth: /Inputs/call false',
    ]);
  });

  test('a lost connection is the end of what we know', () => {
    const run = born();
    expect(toldOf(run.node.lose(run.startAt + 20 * SECOND))).toEqual([
      '(time): all stale from 2026-03-02T08:00:01.000001Z',
    ]);
  });
});

test('rebirths are asked for at once, then after 5 s, 10 s, and so on up to 5 minutes, until one comes', () => {
  const run = new NodeRun();
  const asked: number[] = [];
  for (let second = 0; second < 1_200; second++)
    if (run.take(ndata(String(second), second, second & 255), second).includes('rebirth: not-born'))
      asked.push(second);
  expect(asked).toEqual([0, 5, 15, 35, 75, 155, 315, 615, 915]);
  run.take(nbirth(1_200), 1_200);
  run.take(ndeath(0), 1_201);
  expect(run.take(ndata('again', 1_202, 1), 1_202)).toContain('rebirth: not-born');
});
