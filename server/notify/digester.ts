import { makeBell, rest } from '../bell.ts';
import { takeDigests, type DigestMeans } from './take-digests.ts';
import { takeReports } from './take-reports.ts';

/** Looks twice a minute whose digest is due, and whose month's report. Any number of these may share a database. */
const LOOK_EVERY_MS = 30_000;

export function startDigester(
  means: DigestMeans,
  failed: (error: unknown) => void,
): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  async function run(): Promise<void> {
    while (!stopping.signal.aborted) {
      await takeDigests(means).catch(failed);
      await takeReports(means).catch(failed);
      await rest(LOOK_EVERY_MS, bell.ended);
    }
  }
  const running = run();
  return {
    async stop() {
      stopping.abort();
      await running;
    },
  };
}
