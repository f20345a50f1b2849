import fc from 'fast-check';
import { expect, test } from 'vitest';
import { EdgeNode, type NodeMessage, type Step } from '../../ingest/sparkplug/edge-node.ts';
import { MILLISECOND, parseInstant, type Instant } from '../../shared/base/instant.ts';
import { nodeMessage, type UMetric } from '../fixtures/sparkplug.ts';

/**
 * An edge node's messages delayed, doubled and lost on their way. Whatever is taken is what the edge node said, under the name
 * that it gave; what only came in another order is taken as if it had come in order, and whenever data are lost between
 * others, a rebirth is asked for. (A birth that is lost or overtaken just where the sequence number of what follows it is also
 * the one that comes next before it can't be told by any host: the number is all that the protocol gives. Births are neither
 * here, but what was sent before them may come after them.)
 */
const START = '2026-03-02T08:00:00Z';
const REORDER_SECONDS = 2;
const NAMES = ['a', 'b', 'c'] as const;

interface Sent {
  readonly message: NodeMessage<string>;
  readonly sentMs: number;
}

/** What an edge node does, step by step: data, or a rebirth under which its aliases mean other names. */
type Act =
  { readonly kind: 'data'; readonly alias: number } | { readonly kind: 'birth'; readonly turn: number };
const anAct: fc.Arbitrary<Act> = fc.oneof(
  { weight: 8, arbitrary: fc.record({ kind: fc.constant('data' as const), alias: fc.nat({ max: 2 }) }) },
  { weight: 1, arbitrary: fc.record({ kind: fc.constant('birth' as const), turn: fc.nat({ max: 2 }) }) },
);

/** Every value is the only one of its kind, so that it tells which metric of which message it was. */
function sentBy(acts: readonly Act[]): { sent: Sent[]; truth: Map<string, string> } {
  const truth = new Map<string, string>();
  const startMs = Date.parse(START);
  let [seq, turn, value] = [0, 0, 0];
  const sent = [{ kind: 'birth', turn: 0 } as Act, ...acts].map((act, i): Sent => {
    const ms = startMs + (i + 1) * 50;
    const metric = (alias: number, isBirth: boolean): UMetric => {
      const name = NAMES[(alias + turn) % 3]!;
      truth.set(`${++value}`, name);
      const about = { alias, timestamp: ms, type: 'Double' as const, value };
      return (isBirth ? { ...about, name } : about) as UMetric;
    };
    if (act.kind === 'birth') [seq, turn] = [0, act.turn];
    else seq = (seq + 1) & 255;
    const isBirth = act.kind === 'birth';
    const metrics = isBirth ? [0, 1, 2].map((alias) => metric(alias, true)) : [metric(act.alias, false)];
    const payload = { timestamp: ms, seq, metrics };
    return { message: nodeMessage(String(i), isBirth ? 'NBIRTH' : 'NDATA', payload), sentMs: i * 50 };
  });
  return { sent, truth };
}

interface Arrival {
  readonly sent: Sent;
  readonly at: Instant;
}

interface Outcome {
  readonly taken: Map<string, string>;
  readonly handedBack: Map<string, number>;
  readonly rebirths: number;
}

function arrive(arrivals: readonly Arrival[]): Outcome {
  const node = new EdgeNode<string>({
    group: 'g',
    edge: 'e',
    reorderSeconds: REORDER_SECONDS,
    heardBefore: null,
  });
  const outcome: Outcome & { rebirths: number } = { taken: new Map(), handedBack: new Map(), rebirths: 0 };
  const after = ({ told, rebirth }: Step<string>) => {
    if (rebirth) outcome.rebirths++;
    for (const { message, said } of told) {
      if (message !== null) outcome.handedBack.set(message, (outcome.handedBack.get(message) ?? 0) + 1);
      for (const { name, value, refusal } of said.metrics)
        if (!refusal) outcome.taken.set(String(value), name!);
    }
  };
  for (const { sent, at } of [...arrivals].sort((a, b) => a.at - b.at)) {
    for (let due = node.deadline; due !== null && due <= at; due = node.deadline) after(node.tick(due));
    after(node.take(sent.message, at));
  }
  for (let due = node.deadline; due !== null; due = node.deadline) after(node.tick(due));
  return outcome;
}

const arrival = (sent: Sent, delayMs: number): Arrival => ({
  sent,
  at: parseInstant(START)! + (sent.sentMs + delayMs) * MILLISECOND,
});

const RUNS = { numRuns: Number(process.env['SPARKPLUG_RUNS'] ?? 400) };

test('in another order, and doubled: what is taken is what is taken in order', () => {
  const delays = fc.array(fc.nat({ max: 900 }), { minLength: 41, maxLength: 41 });
  const copies = fc.array(fc.nat({ max: 3 }), { minLength: 41, maxLength: 41 });
  const data = fc.array(fc.record({ kind: fc.constant('data' as const), alias: fc.nat({ max: 2 }) }), {
    maxLength: 40,
  });
  fc.assert(
    fc.property(data, delays, copies, (acts, delay, copied) => {
      const { sent, truth } = sentBy(acts);
      const arrivals = sent.flatMap((one, i) => {
        const first = arrival(one, i === 0 ? 0 : delay[i]!);
        return copied[i] === 0 ? [first, arrival(one, 950)] : [first];
      });
      const { taken, rebirths, handedBack } = arrive(arrivals);
      expect(taken).toEqual(truth);
      expect(rebirths).toBe(0);
      expect([...handedBack.values()].reduce((a, b) => a + b, 0)).toBe(arrivals.length);
    }),
    RUNS,
  );
});

test('lost, doubled, late, across rebirths that change every name: nothing is named wrongly, every loss is followed by a rebirth', () => {
  const fate = fc.record({
    isLost: fc.nat({ max: 9 }),
    delay: fc.nat({ max: 1_500 }),
    copies: fc.nat({ max: 1 }),
  });
  fc.assert(
    fc.property(
      fc.array(anAct, { maxLength: 40 }),
      fc.array(fate, { minLength: 41, maxLength: 41 }),
      (acts, fates) => {
        const { sent, truth } = sentBy(acts);
        const arrivals = sent.flatMap((one, i) => {
          const { isLost, delay, copies } = fates[i]!;
          if (one.message.kind === 'NBIRTH') return [arrival(one, 0)];
          if (isLost === 0) return [];
          return Array.from({ length: 1 + copies }, (_, copy) => arrival(one, delay + copy * 100));
        });
        const { taken, handedBack, rebirths } = arrive(arrivals);
        for (const [value, name] of taken) expect([value, name]).toEqual([value, truth.get(value)]);
        expect([...handedBack.values()].reduce((a, b) => a + b, 0)).toBe(arrivals.length);
        const lastBirth = sent.findLastIndex(({ message }) => message.kind === 'NBIRTH');
        const lost = fates.findIndex(({ isLost }, i) => i > lastBirth && isLost === 0);
        const isMissed =
          lost >= 0 && fates.slice(0, sent.length).some(({ isLost }, i) => i > lost && isLost !== 0);
        if (isMissed) expect(rebirths).toBeGreaterThan(0);
      },
    ),
    RUNS,
  );
});
