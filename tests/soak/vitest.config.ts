import { defineConfig } from 'vitest/config';

/** The soak by itself: outside of every ordinary run. */
const DAY = 24 * 3_600_000;
const STARTED = ['postgres', 'start-files'].map((name) => `tests/fixtures/${name}-setup.ts`);

export default defineConfig({
  test: {
    root: '.',
    include: ['tests/soak/**/*.test.ts'],
    globalSetup: STARTED,
    testTimeout: DAY,
    hookTimeout: 900_000,
    reporters: ['default'],
    disableConsoleIntercept: true,
  },
});
