import { describe, expect, it } from 'vitest';
import { enqueue, type Item } from '../../shared/inference/members/queue.ts';
import { advance, everyRow, upTo, waitingFor, type Reach } from '../../shared/inference/members/taking.ts';

const rowAt = (t: number): Item => ({ t, kind: 'settings' });

/** What is applied, in order, of rows and things due at these instants. */
function applied(rows: readonly number[], due: readonly number[], reach: Reach) {
  const queue: Item[] = [];
  for (const t of rows) enqueue(queue, rowAt(t));
  const still = [...due];
  const said: string[] = [];
  advance(
    {
      queue,
      nextDue: () => still[0] ?? Infinity,
      rows: (t, items) => said.push(`${items.length} at ${t}`),
      due: (t) => said.push(`due ${t}, ${still.shift()}`),
    },
    reach,
  );
  return { said, left: queue.map(({ t }) => t) };
}

describe('what was taken and waits', () => {
  it('is applied up to the frontier and no further, in the order of time', () => {
    expect(applied([30, 10, 20], [15, 25], upTo(20))).toEqual({
      said: ['1 at 10', 'due 15, 15', '1 at 20'],
      left: [30],
    });
  });

  it('is one step where the instants are equal, and comes before what is due then', () => {
    expect(applied([10, 10], [10], upTo(10)).said).toEqual(['2 at 10', 'due 10, 10']);
  });

  it('is all applied for what is only shown, but nothing is due that more rows could still undo', () => {
    expect(applied([10, 20], [12, 15], everyRow(12)).said).toEqual(['1 at 10', 'due 12, 12', '1 at 20']);
  });

  it('waits from its first instant on, or from what is due before it', () => {
    expect(waitingFor([rowAt(20)], 15)).toBe(15);
    expect(waitingFor([rowAt(20)], Infinity)).toBe(20);
    expect(waitingFor([], Infinity)).toBeNull();
  });
});
