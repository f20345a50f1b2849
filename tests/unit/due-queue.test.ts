import { expect, test } from 'vitest';
import type { DueSubject } from '../../db/follow-work.ts';
import { DueQueue } from '../../server/follow/due-queue.ts';

const subject = (id: number, kind: DueSubject['kind']): DueSubject => ({
  id,
  kind,
  site: 'elm',
  device: `${kind}-${id}`,
});
const units = (from: number, count: number) =>
  Array.from({ length: count }, (_, i) => subject(from + i, 'unit'));
const idsOf = async (queue: DueQueue) => (await queue.take())!.map(({ id }) => id);

test('a transaction takes a worker’s share of what waits, and sixteen at most', async () => {
  const queue = new DueQueue(2);
  queue.replace(units(1, 5));
  expect(await idsOf(queue)).toEqual([1, 2, 3]);
  expect(await idsOf(queue)).toEqual([4]);
  queue.replace(units(101, 100));
  expect(await idsOf(queue)).toHaveLength(16);
});

test('what folds the edges of units never shares a transaction with a unit', async () => {
  const queue = new DueQueue(1);
  const [panel, space] = [subject(3, 'panel'), subject(4, 'space')];
  queue.replace([...units(1, 2), panel, space, ...units(5, 1), subject(6, 'gateway')]);
  expect(await idsOf(queue)).toEqual([1, 2]);
  expect(await idsOf(queue)).toEqual([3, 4]);
  expect(await idsOf(queue)).toEqual([5, 6]);
});

test('what failed together is taken one by one until it has been done', async () => {
  const queue = new DueQueue(1);
  const both = units(1, 3);
  queue.replace(both);
  const taken = (await queue.take())!;
  queue.partLater(taken);
  queue.done(taken, []);
  queue.replace(both);
  expect(await idsOf(queue)).toEqual([1]);
  queue.done([both[0]!], [{ subject: both[0]!, outcome: { kind: 'done' }, milliseconds: 1 }]);
  expect(await idsOf(queue)).toEqual([2]);
});

test('who was done while a look was under way isn’t taken from what it found', async () => {
  const queue = new DueQueue(1);
  const [one] = units(1, 1);
  queue.replace([one!]);
  const taken = (await queue.take())!;
  await queue.lookWanted(1);
  queue.done(taken, [{ subject: one!, outcome: { kind: 'done' }, milliseconds: 1 }]);
  queue.replace([one!, ...units(2, 1)]);
  expect(await idsOf(queue)).toEqual([2]);
});
