import { rollUp } from '../../db/rollups.ts';
import type { Database } from '../../db/pool.ts';
import { seconds } from '../../shared/base/instant.ts';
import { makeBell, rest } from '../bell.ts';

/** Adds samples up by five minutes as they come to their end; drawing is right without it, and then slow. */
const EVERY_MS = 30_000;
/** A stretch is left alone for so long after its end: late samples of ordinary gateways are in by then. */
const SETTLE = seconds(60);

export interface RollUpOptions {
  readonly database: Database;
  /** µs */
  readonly now: () => number;
  readonly failed: (error: unknown) => void;
}

export function startRollingUp({ database, now, failed }: RollUpOptions): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  const run = async (): Promise<void> => {
    while (!stopping.signal.aborted) {
      const more = await rollUp(database, now() - SETTLE).catch((error: unknown) => failed(error));
      if (more !== true) await rest(EVERY_MS, bell.ended);
    }
  };
  const running = run();
  return {
    stop() {
      stopping.abort();
      return running;
    },
  };
}
