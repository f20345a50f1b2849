import { statement, type Queries } from './pool.ts';

/**
 * What only one process may do at a time: whoever holds the lease's row does it, and renews it; when the time of a renewal
 * has passed, another may take it. The database's clock alone counts. A time that lies further ahead than any lease lasts
 * was written before that clock was set back, and holds nobody off.
 */
export interface Lease {
  readonly name: string;
  readonly holder: string;
}

const LEASE_SECONDS = 10;

const TAKE = statement(
  'lease-take',
  `insert into leases as l (name, holder, until_t) values ($1, $2, now() + interval '${LEASE_SECONDS} seconds')
   on conflict (name) do update set holder = excluded.holder, until_t = excluded.until_t,
     is_online = l.is_online and l.holder = excluded.holder
   where l.holder = excluded.holder or l.until_t < now() or l.until_t > now() + interval '${2 * LEASE_SECONDS} seconds'`,
);

/** Takes it, or renews it; false: another has it. */
export const takeLease = async (queries: Queries, { name, holder }: Lease): Promise<boolean> =>
  (await queries.run(TAKE, [name, holder])) > 0;

const SAY = statement('lease-say', 'update leases set is_online = $3 where name = $1 and holder = $2');

/** The holder does now what the lease is for, or doesn't for the moment. */
export const sayOnline = async (
  queries: Queries,
  { name, holder }: Lease,
  isOnline: boolean,
): Promise<void> => {
  await queries.run(SAY, [name, holder, isOnline]);
};

const GIVE_UP = statement(
  'lease-give-up',
  'update leases set is_online = false, until_t = now() where name = $1 and holder = $2',
);

/** Another may take it at once. */
export const giveUpLease = async (queries: Queries, { name, holder }: Lease): Promise<void> => {
  await queries.run(GIVE_UP, [name, holder]);
};

const DROP = statement('lease-drop', 'delete from leases where name = $1 and holder = $2');

/** There is nothing more to do under it. */
export const dropLease = async (queries: Queries, { name, holder }: Lease): Promise<void> => {
  await queries.run(DROP, [name, holder]);
};
