import type { RegisteredIngest } from '../db/ingests.ts';
import { formatInstant } from '../shared/base/instant.ts';
import type { Part } from './service.ts';

/** Without a word for so long an ingest counts as absent: the longest time between two marks, and some patience. */
const ABSENT_SECONDS = 15;

/** Ingests that share messages: one that is away holds back what is known, so it is named. None: there is no such part. */
export function ingestsPart(ingests: readonly RegisteredIngest[]): Part[] {
  if (ingests.length === 0) return [];
  const absent = ingests.filter(({ silentSeconds }) => silentSeconds > ABSENT_SECONDS);
  const named = absent.map(
    ({ id, committedThrough }) =>
      `${id} is away, and nothing after ${formatInstant(committedThrough)} is certain`,
  );
  const says =
    absent.length === 0
      ? `${ingests.length} share the messages, and commit what they receive`
      : `${named.join('; ')}. Start it again with the same INGEST_ID; if it is to go for good, with --leave.`;
  return [{ name: 'ingests', ok: absent.length === 0, gates: false, says }];
}
