import { nextHearing, registerIngest, unregisterIngest } from '../db/ingests.ts';
import type { Database } from '../db/pool.ts';
import type { Instant } from '../shared/base/instant.ts';

/**
 * One of several ingests that share the messages of a group at the broker (MQTT 5 section 4.8.2): each message goes to one of
 * them. What a member has heard counts when all of them have committed what they had received by then (db/ingests.ts).
 */
export interface Member {
  /** its session at the broker may hold messages from before: where that is gone, so are they */
  readonly wasKnown: boolean;
  /** the filter under which the group shares what this one matches */
  share(filter: string): string;
  /** A number for all that was heard until now; null: the database doesn't answer. */
  hear(): Promise<number | null>;
  /** Nobody waits for it any more. */
  leave(): Promise<void>;
}

export async function joinMembers(
  database: Database,
  ingest: { readonly id: string; readonly share: string },
  now: Instant,
): Promise<Member> {
  const how = await registerIngest(database, ingest, now);
  return {
    wasKnown: how === 'known',
    share: (filter) => `$share/${ingest.share}/${filter}`,
    hear: () => nextHearing(database).catch(() => null),
    leave: async () => {
      await unregisterIngest(database, ingest.id);
    },
  };
}
