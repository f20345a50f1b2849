import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { NOTE } from './note.ts';
import { reportOf, targetsOf } from './report.ts';
import { runSetup } from './run-bench.ts';
import { SETUPS } from './setups.ts';
import type { SetupTally } from './tally.ts';

/**
 * `npm run score [-- share [part of a name]]`: runs the scoring bench and, at its whole size, writes the page beside it.
 * `share` (default 1) is the part of the histories to run.
 */
const share = Number(process.argv[2] ?? 1);
const only = process.argv[3] ?? '';
const scores = new Map<string, SetupTally>();
for (const row of SETUPS.filter(({ name }) => name.includes(only))) {
  const began = performance.now();
  const tally = runSetup(row, Math.max(1, Math.round(row.histories * share)));
  scores.set(row.name, tally);
  const took = ((performance.now() - began) / 1000).toFixed(1);
  console.log(`${row.name}: ${tally.unitDays.toFixed(0)} unit-days, ${tally.rows} rows, ${took} s`);
  for (const line of tally.examples.slice(0, Number(process.env['EXAMPLES'] ?? 5)))
    console.log(`    ${line}`);
}
for (const { what, got, reached } of targetsOf(scores))
  console.log(`${reached ? 'reached' : 'MISSED '}  ${what}: ${got}`);
const page = reportOf(scores, NOTE);
if (share >= 1 && only === '') writeFileSync(join(import.meta.dirname, 'SCORE.md'), page);
else if (process.env['PAGE']) writeFileSync(process.env['PAGE'], page);
