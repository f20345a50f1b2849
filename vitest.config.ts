import { configDefaults, defineConfig } from 'vitest/config';

/**
 * One run, four groups, one after the other on two cores: what is pure; what needs a database, a broker or a browser; what
 * kills processes; then alone what measures time (nothing else may run beside it, or its figures mean nothing). More workers
 * than cores were slower: what waits for a database or a browser keeps a core busy all the same. Files of pure tests share
 * a process, so that what they import is read once; those of laws over generated histories have one each.
 */
const MINUTE = 60_000;

/** The page that the servers of tests give out is built once, before the first of them starts. */
const SETUP = ['tests/fixtures/postgres-setup.ts', 'tests/fixtures/page-setup.ts'];
const KILLS = ['tests/integration/**/*kill*.test.ts'];
/** tests that measure time: each has the machine for itself */
const ALONE = ['tests/browser/page.test.ts'];

export default defineConfig({
  test: {
    reporters: ['default', ['json', { outputFile: '.cache/tests.json' }]],
    projects: [
      group('pure', 0, 2, MINUTE, ['tests/*.test.ts', 'tests/{unit,stories,tidy,score}/**/*.test.ts']),
      group('laws', 0, 2, MINUTE, ['tests/property/**/*.test.ts']),
      group('parts', 1, 2, 2 * MINUTE, ['tests/{integration,browser}/**/*.test.ts'], [...KILLS, ...ALONE]),
      group('kills', 2, 2, 5 * MINUTE, KILLS),
      group('alone', 3, 1, 5 * MINUTE, ALONE),
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
      sequence: { groupOrder },
      // one PostgreSQL for the groups that need parts; started when the first of them runs
      globalSetup: groupOrder === 0 ? [] : SETUP,
    },
  };
}
