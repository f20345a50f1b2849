import { announceInferred, dropWork, type DueSubject } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readGiven } from './given.ts';
import { stepSubject, type StepMeans, type StepOutcome, type Turn } from './step.ts';

/**
 * Steps of several subjects in one transaction: what they have in common is asked once, and their work items go in one
 * piece with what follows from them. Most of what a small step takes is asking.
 */
export interface Stepped {
  readonly subject: DueSubject;
  readonly outcome: StepOutcome;
  readonly milliseconds: number;
}

/** A transaction that has lasted so long takes no further subject. */
const LONG_MS = 100;

/** Answers those that were taken: the first of them at least, the others while there is time. */
export async function stepSubjects(
  queries: Queries,
  subjects: readonly DueSubject[],
  means: StepMeans,
  turnOf: (subject: DueSubject) => Turn,
): Promise<Stepped[]> {
  const given = await readGiven(queries, subjects, means.setups);
  const started = performance.now();
  const steps: Stepped[] = [];
  for (const subject of subjects) {
    const at = performance.now();
    if (at - started > LONG_MS) break;
    const outcome = await stepSubject(queries, subject, means, given.of(subject), turnOf(subject));
    steps.push({ subject, outcome, milliseconds: performance.now() - at });
  }
  await dropWork(
    queries,
    steps.map(({ subject: { id } }) => id),
    given.lastItem,
  );
  await announceInferred(queries);
  return steps;
}
