import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { NOTE } from './note.ts';
import { optionsOf, type Options } from './options.ts';
import { reportOf } from './report.ts';
import { targetsOf } from './targets.ts';
import { piecesOf, runPieces } from './jobs.ts';
import type { Row } from './setups.ts';

/** `npm run score [-- options]`: runs the scoring bench and, at its whole size, writes the page beside it (`--help`). */
const options = optionsOf(process.argv.slice(2));
if (typeof options === 'string') console.log(options);
else await score(options);

async function score(asked: Options): Promise<void> {
  const isShown = (line: string): boolean => line.includes(asked.example);
  const pieces = asked.rows.flatMap((row) =>
    piecesOf({ row: row.name, asked: { seeds: seedsOf(row, asked), faults: asked.faults } }),
  );
  const scores = await runPieces(pieces, asked.jobs, isShown);
  for (const [name, tally] of scores) {
    console.log(`${name}: ${tally.unitDays.toFixed(0)} unit-days, ${tally.rows} rows`);
    for (const line of tally.examples.slice(0, asked.examples)) console.log(`    ${line}`);
  }
  for (const { what, got, reached } of targetsOf(scores))
    console.log(`${reached ? 'reached' : 'MISSED '}  ${what}: ${got}`);
  const page = asked.page ?? (asked.isWhole ? join(import.meta.dirname, 'SCORE.md') : null);
  if (page) writeFileSync(page, reportOf(scores, NOTE, asked.share));
}

function seedsOf(row: Row, { seed, histories, share }: Options): number[] {
  if (seed !== null) return [seed];
  const count = histories ?? Math.max(1, Math.round(row.histories * share));
  return Array.from({ length: count }, (_, i) => i + 1);
}
