import { commitBatch, EMPTY_BATCH, type CommitBatch } from '../../db/commit.ts';
import { readFloor } from '../../db/floor.ts';
import { readConfigurationRevision } from '../../db/site-history.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { BAD, CONFLICT, GOOD, UNCERTAIN } from '../../shared/telemetry/sample.ts';
import type { ImportAnswer, ImportRow } from '../../shared/wire/import-wire.ts';
import type { Setup } from '../follow/setup.ts';
import { RowJudge } from './judge-row.ts';

/**
 * Rows of a file taken into the record by the same commit as telemetry: compared with the configuration's revision, merged
 * as a join (twice is once), and whoever folds their points is woken. Rows that can't be taken come back with why, and
 * stop nothing else.
 */
export interface Taking<Row> {
  readonly ask: { readonly rows: readonly Row[]; readonly dryRun?: boolean };
  readonly now: Instant;
  /** the site as configured now; asked again where the configuration moves meanwhile */
  readonly readSetup: () => Promise<Setup>;
  readonly judgeRows: (judging: Judging<Row>) => Judged;
}

export interface Judging<Row> {
  readonly judge: RowJudge;
  readonly rows: readonly Row[];
}

export interface Judged {
  readonly batch: Partial<Omit<CommitBatch, 'revision'>>;
  readonly faults: ImportAnswer['faults'];
}

export async function takeRows<Row>(
  database: Parameters<typeof commitBatch>[0],
  { ask: { rows, dryRun }, now, readSetup, judgeRows }: Taking<Row>,
): Promise<ImportAnswer> {
  for (;;) {
    const revision = await readConfigurationRevision(database);
    const floor = (await readFloor(database))?.at ?? -Infinity;
    const { batch, faults } = judgeRows({ judge: new RowJudge(await readSetup(), { now, floor }), rows });
    const taken = rows.length - faults.length;
    if (dryRun || taken === 0) return { taken, changed: 0, faults };
    const outcome = await commitBatch(database, { ...EMPTY_BATCH, ...batch, revision });
    if (outcome.kind === 'committed')
      return { taken, changed: outcome.changed + outcome.lives + outcome.others, faults };
  }
}

export function qualityOf(q: ImportRow['q'], conflict = false): number {
  const level = q === 'bad' ? BAD : q === 'uncertain' ? UNCERTAIN : GOOD;
  return conflict ? Math.max(level, UNCERTAIN) | CONFLICT : level;
}
