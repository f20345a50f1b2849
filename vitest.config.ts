import { configDefaults, defineConfig } from 'vitest/config';
import { fixedSeed } from './tests/fixtures/seed.ts';
import { LongestFirst } from './tests/fixtures/longest-first.ts';

/**
 * One run, two groups, one after the other on two cores: all that may run beside something else, and then alone what measures
 * time (nothing else may run beside it, or its figures mean nothing). More workers than cores were slower: what waits for a
 * database or a browser keeps a core busy all the same. Files of pure tests share a process, so that what they import is read
 * once; those of laws over generated histories have one each.
 */
const MINUTE = 60_000;

/** The page that the servers of tests give out is built once, before the first of them starts. */
const PARTS = ['tests/fixtures/postgres-setup.ts', 'tests/fixtures/page-setup.ts'];
/** tests that measure time: each has the machine for itself */
const ALONE = [
  'tests/browser/page.test.ts',
  'tests/integration/{alarm-to-mail,ingest-embedded,live-socket,server-board}.test.ts',
];

const seed = fixedSeed();
if (seed !== null)
  process.stdout.write(`Laws over generated cases take the seed ${seed} (SEED=… takes another).\n`);

export default defineConfig({
  test: {
    reporters: ['default', ['json', { outputFile: '.cache/tests.json' }]],
    sequence: { sequencer: LongestFirst },
    projects: [
      group('laws', 0, 2, MINUTE, ['tests/property/**/*.test.ts']),
      group('parts', 0, 2, 10 * MINUTE, ['tests/{integration,browser}/**/*.test.ts'], ALONE),
      group('pure', 0, 2, MINUTE, ['tests/*.test.ts', 'tests/{unit,stories,tidy,score}/**/*.test.ts']),
      group('alone', 1, 1, 10 * MINUTE, ALONE),
    ],
  },
});

function group(
  name: string,
  groupOrder: number,
  maxWorkers: number,
  timeout: number,
  include: string[],
  exclude: string[] = [],
) {
  return {
    test: {
      name,
      include,
      exclude: [...configDefaults.exclude, ...exclude],
      environment: 'node' as const,
      pool: 'forks' as const,
      isolate: name !== 'pure',
      maxWorkers,
      testTimeout: timeout,
      hookTimeout: timeout,
      teardownTimeout: 20_000,
      // what is waited for comes, on a slow machine later: a deadline ends a test that hangs, and says nothing of speed
      expect: { poll: { timeout: MINUTE, interval: 50 } },
      sequence: { groupOrder },
      setupFiles: ['tests/fixtures/seed-setup.ts'],
      // one PostgreSQL for whatever needs parts
      globalSetup: name === 'parts' || name === 'alone' ? PARTS : [],
    },
  };
}
