import { statement, type Queries } from './pool.ts';

/**
 * Commits of telemetry share this lock; a change of configuration takes it alone. So a change waits for the commits that
 * run, and every commit that starts after the change has answered sees its revision. Held to the end of the transaction;
 * what it protects must be read in a *later* statement, whose snapshot is taken after the lock was given.
 */
const SHARED = statement('configuration-share', 'select pg_advisory_xact_lock_shared(7203, 3)');
const ALONE = statement('configuration-alone', 'select pg_advisory_xact_lock(7203, 3)');

export const shareConfiguration = async (queries: Queries): Promise<void> => {
  await queries.run(SHARED);
};

export const holdConfiguration = async (queries: Queries): Promise<void> => {
  await queries.run(ALONE);
};
