import { randomUUID } from 'node:crypto';
import type { AskedCommand } from '../../db/alarm-commands.ts';
import { ownEscalation, readEscalation, startEscalation, stopEscalation } from '../../db/escalations.ts';
import type { Queries } from '../../db/pool.ts';
import { readAlarm, readWorks } from '../../db/read-alarms.ts';
import { addStep, readSteps, type StepRow } from '../../db/visits.ts';
import type { Command } from '../../shared/alarms/alarm.ts';
import { stateOf } from '../../shared/alarms/life.ts';
import { LONGEST_WORK } from '../../shared/alarms/work.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';

/**
 * A step of whoever has an alarm (handbook 7): who has it, their work in progress, and whom the pages follow. Sent twice
 * under one id it is one: each part of it is, in its order, so that a crash in between is mended by sending it again.
 */
export interface StepMeans {
  /** says no by throwing */
  readonly decide: (asked: AskedCommand) => Promise<void>;
  readonly transaction: <T>(work: (queries: Queries) => Promise<T>) => Promise<T>;
  readonly queries: Queries;
}

/** of a work that is begun: what is left less than this isn't worth beginning */
const LEAST_WORK = 60 * SECOND;

export async function takeStep(means: StepMeans, row: StepRow, units: readonly string[]): Promise<void> {
  if (row.step === 'on-site') await beginWork(means, row, units);
  if (row.step === 'left') await endWork(means, row);
  await means.transaction(async (queries) => {
    if (await addStep(queries, row)) await follow(queries, row);
  });
}

/** From when it was pressed for two hours: what waited long to be sent begins nothing. */
async function beginWork({ decide }: StepMeans, row: StepRow, units: readonly string[]): Promise<void> {
  const { id, by, at, saidAt } = row;
  const until = (saidAt ?? at) + LONGEST_WORK;
  if (units.length === 0 || until - at < LEAST_WORK) return;
  await decide(asked({ id, kind: 'begin-work', units, by, at, until }, row));
}

/** Every work that this person's steps on this alarm have begun. */
async function endWork({ decide, queries }: StepMeans, row: StepRow): Promise<void> {
  const begun = new Set(
    (await readSteps(queries, [row.alarm]))
      .filter(({ step, person }) => step === 'on-site' && person === row.person)
      .map(({ id }) => id),
  );
  for (const work of await readWorks(queries, [row.site]))
    if (begun.has(work.id))
      await decide(asked({ id: randomUUID(), kind: 'end-work', work: work.id, by: row.by, at: row.at }, row));
}

const asked = (command: Command, { by, at }: StepRow): AskedCommand => ({ command, by, at });

async function follow(queries: Queries, { alarm, site, step, person, at }: StepRow): Promise<void> {
  const row = await readEscalation(queries, alarm);
  if (row === null || row.state === 'over') return;
  if (step !== 'left')
    return ownEscalation(
      queries,
      { alarm, owner: person, place: step === 'on-site' ? 'on-site' : 'accepted' },
      at,
    );
  await leave(queries, { alarm, site, person, at });
}

/** What is still true when somebody leaves is raised anew; what is over is over; else it stays theirs. */
async function leave(
  queries: Queries,
  { alarm, site, person, at }: { alarm: string; site: string; person: string; at: Instant },
): Promise<void> {
  const kept = await readAlarm(queries, alarm);
  const letter = kept ? stateOf(kept.alarm.life) : 'A';
  if (letter === 'A' || letter === 'D')
    return stopEscalation(queries, { alarm, why: 'cleared', cleared: true }, at);
  if (letter !== 'B' && letter !== 'E')
    return ownEscalation(queries, { alarm, owner: person, place: 'accepted' }, at);
  await stopEscalation(queries, { alarm, why: 'left while it still stands', cleared: false }, at);
  await startEscalation(queries, { alarm, site, severity: kept!.alarm.life.severity }, at);
}
