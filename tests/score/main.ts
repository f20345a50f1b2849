import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { NOTE } from './note.ts';
import { optionsOf, type Options } from './options.ts';
import { reportOf, targetsOf } from './report.ts';
import { runSetup } from './run-bench.ts';
import type { Row } from './setups.ts';
import type { SetupTally } from './tally.ts';

/** `npm run score [-- options]`: runs the scoring bench and, at its whole size, writes the page beside it (`--help`). */
const options = optionsOf(process.argv.slice(2));
if (typeof options === 'string') console.log(options);
else score(options);

function score(asked: Options): void {
  const scores = new Map<string, SetupTally>();
  for (const row of asked.rows) {
    const began = performance.now();
    const tally = runSetup(row, seedsOf(row, asked), asked.faults, (line) => line.includes(asked.example));
    scores.set(row.name, tally);
    const took = ((performance.now() - began) / 1000).toFixed(1);
    console.log(`${row.name}: ${tally.unitDays.toFixed(0)} unit-days, ${tally.rows} rows, ${took} s`);
    for (const line of tally.examples.slice(0, asked.examples)) console.log(`    ${line}`);
  }
  for (const { what, got, reached } of targetsOf(scores))
    console.log(`${reached ? 'reached' : 'MISSED '}  ${what}: ${got}`);
  const page = asked.page ?? (asked.isWhole ? join(import.meta.dirname, 'SCORE.md') : null);
  if (page) writeFileSync(page, reportOf(scores, NOTE));
}

function seedsOf(row: Row, { seed, histories, share }: Options): number[] {
  if (seed !== null) return [seed];
  const count = histories ?? Math.max(1, Math.round(row.histories * share));
  return Array.from({ length: count }, (_, i) => i + 1);
}
