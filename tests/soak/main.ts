import { spawnSync } from 'node:child_process';
import { randomInt } from 'node:crypto';
import { parseArgs } from 'node:util';

/** `npm run soak -- --minutes 15 --seed 42`: the whole line under random faults, which the seed brings back. */
const { values } = parseArgs({ options: { minutes: { type: 'string' }, seed: { type: 'string' } } });
const minutes = Number(values.minutes ?? 15);
const seed = Number(values.seed ?? randomInt(1_000_000));
if (!(minutes > 0) || !Number.isInteger(seed)) {
  console.error('Give --minutes a number above 0, and --seed a whole number.');
  process.exit(2);
}
const { status } = spawnSync('npx', ['vitest', 'run', '--config', 'tests/soak/vitest.config.ts'], {
  stdio: 'inherit',
  env: { ...process.env, SOAK_MINUTES: String(minutes), SOAK_SEED: String(seed) },
});
process.exit(status ?? 1);
