import { configDefaults, defineConfig } from 'vitest/config';
import { fixedSeed } from './tests/fixtures/seed.ts';
import { LongestFirst } from './tests/fixtures/longest-first.ts';

/**
 * One run, two groups, one after the other on two cores: all that may run beside something else, and then alone what measures
 * time (nothing else may run beside it, or its figures mean nothing). More workers than cores were slower: what waits for a
 * database or a browser keeps a core busy all the same. Files share a process, so that what they import is read once and a
 * browser is started once; only those of laws over generated histories have one each, in which they are twice as fast.
 */
const MINUTE = 60_000;

/** What is started once for all: a PostgreSQL; and made once: the page that servers give out, programs that tests start. */
const PARTS = ['postgres', 'page', 'start-files'].map((name) => `tests/fixtures/${name}-setup.ts`);
/**
 * Tests that measure time closely: each has the machine for itself. What others say of time (mail within 2 s, the board of 1,000
 * units within one, frames within one) held with room to spare where ten others worked on the same two cores.
 */
const ALONE = ['tests/browser/page.test.ts'];

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
      isolate: name === 'laws',
      maxWorkers,
      testTimeout: timeout,
      hookTimeout: timeout,
      teardownTimeout: 20_000,
      // what is waited for comes, on a slow machine later: a deadline ends a test that hangs, and says nothing of speed
      expect: { poll: { timeout: MINUTE, interval: 50 } },
      sequence: { groupOrder },
      setupFiles: ['tests/fixtures/file-setup.ts'],
      globalSetup: name === 'parts' || name === 'alone' ? PARTS : [],
    },
  };
}
