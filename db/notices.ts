import type { Instant } from '../shared/base/instant.ts';
import type { Told } from '../shared/people/telling.ts';
import type { ChannelKind } from './channels.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Notices (one a person and root) and their deliveries (one a message and channel): rows before they are messages. */
export interface NoticeRow extends Told {
  readonly id: string;
  readonly alarm: string;
  readonly person: string;
}

const OF_ALARM = statement(
  'notices-of-alarm',
  'select id, alarm, person, severity, cleared, owner from notices where alarm = $1 order by made_at, id',
);
export const readNotices = (queries: Queries, alarm: string): Promise<NoticeRow[]> =>
  queries.many(OF_ALARM, [alarm]);

const KEEP = statement(
  'notices-keep',
  `insert into notices (alarm, person, severity, cleared, owner, made_at) values ($1, $2, $3, $4, $5, $6)
   on conflict (alarm, person) do update
     set severity = excluded.severity, cleared = excluded.cleared, owner = excluded.owner
   returning id`,
);
/** What a person has now been told; answers the notice's id, which stays the same. */
export const keepNotice = async (
  queries: Queries,
  alarm: string,
  person: string,
  told: Told,
  now: Instant,
): Promise<string> => {
  const values = [alarm, person, told.severity, told.cleared, told.owner, timeParameter(now)];
  return (await queries.one<{ id: string }>(KEEP, values)).id;
};

export interface Attachment {
  readonly name: string;
  readonly type: string;
  readonly base64: string;
}

/** What is sent; each kind of channel takes of it what it can carry. */
export interface MessageBody {
  readonly subject: string;
  readonly text: string;
  readonly short: string;
  /** what is read aloud; messages from before there were calls have none */
  readonly spoken?: string;
  /** what a program gets */
  readonly data: unknown;
  /** what goes with an e-mail; bounded by whoever makes it */
  readonly attachments?: readonly Attachment[];
}

const ADD = statement(
  'deliveries-add',
  `insert into deliveries (notice, channel, message, reason, body, made_at, due_at) values ($1, $2, $3, $4, $5, $6, $6)
   on conflict (notice, channel, message) do nothing`,
);
export interface NewDelivery {
  readonly notice: string | null;
  readonly channel: string;
  readonly message: string;
  readonly reason: string;
  readonly body: MessageBody;
}
/** The same message again is none. */
export const addDelivery = (queries: Queries, one: NewDelivery, now: Instant): Promise<number> =>
  queries.run(ADD, [
    one.notice,
    one.channel,
    one.message,
    one.reason,
    JSON.stringify(one.body),
    timeParameter(now),
  ]);

export interface ClaimedDelivery {
  readonly id: number;
  readonly notice: string | null;
  readonly channel: string;
  readonly reason: string;
  readonly messageId: string;
  readonly body: MessageBody;
  readonly attempts: number;
  readonly madeAt: Instant;
}

const CLAIM = statement(
  'deliveries-claim',
  `update deliveries set leased_until = $2, attempts = attempts + 1
   where id = (
     select id from deliveries where state = 'waiting' and due_at <= $1 and (leased_until is null or leased_until <= $1)
     order by due_at, id limit 1 for update skip locked)
   returning id, notice, channel, reason, message_id as "messageId", body, attempts, made_at as "madeAt"`,
);
/** One that is due and that nobody is sending. Whoever dies while sending leaves it to others when the lease is over. */
export const claimDelivery = (
  queries: Queries,
  now: Instant,
  leasedUntil: Instant,
): Promise<ClaimedDelivery | null> => queries.maybe(CLAIM, [timeParameter(now), timeParameter(leasedUntil)]);

const END = statement(
  'deliveries-end',
  `update deliveries set state = $2, ended_at = $3, answer = $4, leased_until = null
   where id = $1 and state in ('waiting', 'overtaken')`,
);
/** Accepted by the next station, or given up. One that was overtaken while it was on its way has gone all the same. */
export const endDelivery = (
  queries: Queries,
  id: number,
  end: { readonly state: 'accepted' | 'given-up'; readonly answer: string },
  now: Instant,
): Promise<number> => queries.run(END, [id, end.state, timeParameter(now), end.answer.slice(0, 500)]);

const POSTPONE = statement(
  'deliveries-postpone',
  `update deliveries set due_at = $2, answer = $3, leased_until = null where id = $1 and state = 'waiting'`,
);
export const postponeDelivery = (
  queries: Queries,
  id: number,
  dueAt: Instant,
  answer: string,
): Promise<number> => queries.run(POSTPONE, [id, timeParameter(dueAt), answer.slice(0, 500)]);

export interface DeliveryRow {
  readonly id: number;
  readonly alarm: string | null;
  readonly person: string;
  readonly kind: ChannelKind;
  readonly address: string;
  readonly reason: string;
  readonly state: 'waiting' | 'accepted' | 'given-up' | 'overtaken';
  readonly attempts: number;
  readonly madeAt: Instant;
  readonly dueAt: Instant;
  readonly endedAt: Instant | null;
  readonly answer: string | null;
}

const LIST = statement(
  'deliveries-list',
  `select d.id, n.alarm, c.person, c.kind, c.address, d.reason, d.state, d.attempts, d.made_at as "madeAt",
     d.due_at as "dueAt", d.ended_at as "endedAt", d.answer
   from deliveries d join channels c on c.id = d.channel left join notices n on n.id = d.notice
   where ($1::text is null or n.alarm = $1) and ($2::uuid is null or c.person = $2)
   order by d.id desc limit $3`,
);
/** The newest first, of an alarm, of a person, or of both. */
export const readDeliveries = (
  queries: Queries,
  of: { readonly alarm: string | null; readonly person: string | null },
  limit: number,
): Promise<DeliveryRow[]> => queries.many(LIST, [of.alarm, of.person, limit]);

const TRIM = statement(
  'deliveries-trim',
  `delete from deliveries where id in (
     select id from deliveries where ended_at < $1::timestamptz - make_interval(days => $2) limit 10000)`,
);
const DELIVERY_DAYS = 400;
/** Brings what was sent back within its bound of days. */
export const trimDeliveries = (queries: Queries, now: Instant): Promise<number> =>
  queries.run(TRIM, [timeParameter(now), DELIVERY_DAYS]);
