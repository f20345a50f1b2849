import { configDefaults, defineConfig } from 'vitest/config';

/**
 * One run, three groups, one after the other on two cores: what is pure; what needs a database, a broker or a browser; then
 * alone what measures time or kills processes (nothing else may run beside it, or its figures mean nothing). More workers
 * than cores were slower: what waits for a database or a browser keeps a core busy all the same.
 */
const MINUTE = 60_000;

/** The page that the servers of tests give out is built once, before the first of them starts. */
const SETUP = ['tests/fixtures/postgres-setup.ts', 'tests/fixtures/page-setup.ts'];
/** tests that measure or kill: each has the machine for itself */
const ALONE = ['tests/browser/page.test.ts', 'tests/integration/**/*kill*.test.ts'];

export default defineConfig({
  test: {
    reporters: ['default', ['json', { outputFile: '.cache/tests.json' }]],
    projects: [
      group('pure', 0, 2, MINUTE, [
        'tests/*.test.ts',
        'tests/{unit,property,stories,tidy,score}/**/*.test.ts',
      ]),
      group('parts', 1, 2, 2 * MINUTE, ['tests/{integration,browser}/**/*.test.ts'], ALONE),
      group('alone', 2, 1, 5 * MINUTE, ALONE),
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
      maxWorkers,
      testTimeout: timeout,
      hookTimeout: timeout,
      teardownTimeout: 20_000,
      sequence: { groupOrder },
      // one PostgreSQL for the groups that need parts; started when the first of them runs
      globalSetup: groupOrder === 0 ? [] : SETUP,
    },
  };
}
