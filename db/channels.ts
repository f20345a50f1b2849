import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Where a person can be reached. */
export type ChannelKind = 'e-mail' | 'webhook' | 'short-message' | 'web-push' | 'voice';

export interface ChannelRow {
  readonly id: string;
  readonly person: string;
  readonly kind: ChannelKind;
  readonly address: string;
  /** of a device: what its person knows it by */
  readonly label: string | null;
  readonly secret: string | null;
  readonly madeAt: Instant;
  readonly verifiedAt: Instant | null;
  readonly disabledAt: Instant | null;
  readonly disabledWhy: string | null;
}

const COLUMNS = `id, person, kind, address, label, secret, made_at as "madeAt", verified_at as "verifiedAt",
  disabled_at as "disabledAt", disabled_why as "disabledWhy"`;
const CHANNELS_BOUND = 20;

const OF = statement(
  'channels-of',
  `select ${COLUMNS} from channels where person = $1 order by made_at, id limit ${CHANNELS_BOUND}`,
);
export const readChannels = (queries: Queries, person: string): Promise<ChannelRow[]> =>
  queries.many(OF, [person]);

const ONE = statement('channels-one', `select ${COLUMNS} from channels where id = $1`);
export const readChannel = (queries: Queries, id: string): Promise<ChannelRow | null> =>
  queries.maybe(ONE, [id]);

const USABLE = statement(
  'channels-usable',
  `select ${COLUMNS} from channels where person = any($1::uuid[]) and disabled_at is null
     and exists (select from people where id = channels.person and closed_at is null)
   order by person, made_at, id`,
);
/** Those that messages may go to. Whether a person has said that they come through doesn't matter: better one too many. */
export const readUsableChannels = (queries: Queries, people: readonly string[]): Promise<ChannelRow[]> =>
  queries.many(USABLE, [people]);

export type NewChannel = Pick<ChannelRow, 'person' | 'kind' | 'address' | 'secret'> & {
  readonly label?: string | null;
};

const ADD = statement(
  'channels-add',
  `insert into channels (person, kind, address, label, secret, made_at)
   select $1, $2, $3, $4, $5, $6 where (select count(*) from channels where person = $1) < ${CHANNELS_BOUND}
   on conflict (person, kind, address) do nothing returning ${COLUMNS}`,
);
/** null: it is there already, or there are too many. */
export const addChannel = (
  queries: Queries,
  { person, kind, address, label, secret }: NewChannel,
  now: Instant,
): Promise<ChannelRow | null> =>
  queries.maybe(ADD, [person, kind, address, label ?? null, secret, timeParameter(now)]);

const HANDED_ON = statement(
  'channels-handed-on',
  `delete from channels where kind = 'web-push' and address = $1 and person <> $2`,
);
/** A device is one person's: whoever subscribes it has it, and nobody else is told by it any more. */
export const takeDevice = (queries: Queries, address: string, person: string): Promise<number> =>
  queries.run(HANDED_ON, [address, person]);

const DELETE = statement('channels-delete', 'delete from channels where id = $1');
export const deleteChannel = async (queries: Queries, id: string): Promise<boolean> =>
  (await queries.run(DELETE, [id])) > 0;

const VERIFY = statement(
  'channels-verify',
  `update channels set verified_at = $2, disabled_at = null, disabled_why = null, given_up = 0 where id = $1`,
);
/** The person says that a message came through: it is used again, should it have been disabled. */
export const verifyChannel = async (queries: Queries, id: string, now: Instant): Promise<boolean> =>
  (await queries.run(VERIFY, [id, timeParameter(now)])) > 0;

const DISABLE = statement(
  'channels-disable',
  `update channels set disabled_at = $2, disabled_why = $3 where id = $1 and disabled_at is null`,
);
export const disableChannel = (queries: Queries, id: string, why: string, now: Instant): Promise<number> =>
  queries.run(DISABLE, [id, timeParameter(now), why]);

const COUNT_GIVEN_UP = statement(
  'channels-count-given-up',
  'update channels set given_up = given_up + 1 where id = $1 returning given_up as count',
);
export const countGivenUp = async (queries: Queries, id: string): Promise<number> =>
  (await queries.maybe<{ count: number }>(COUNT_GIVEN_UP, [id]))?.count ?? 0;

const FORGET_GIVEN_UP = statement(
  'channels-forget-given-up',
  'update channels set given_up = 0 where id = $1 and given_up > 0',
);
export const forgetGivenUp = (queries: Queries, id: string): Promise<number> =>
  queries.run(FORGET_GIVEN_UP, [id]);

const REACHABLE = statement(
  'channels-reachable',
  'select distinct person from channels where person = any($1::uuid[]) and disabled_at is null',
);
/** Those of some people who have a channel that is used. */
export const readReachable = async (queries: Queries, people: readonly string[]): Promise<string[]> =>
  (await queries.many<{ person: string }>(REACHABLE, [people.filter(isUuid)])).map(({ person }) => person);

const isUuid = (text: string): boolean => /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/.test(text);
