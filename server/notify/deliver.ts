import {
  countGivenUp,
  disableChannel,
  forgetGivenUp,
  readChannel,
  type ChannelKind,
  type ChannelRow,
} from '../../db/channels.ts';
import { claimDelivery, endDelivery, postponeDelivery, type ClaimedDelivery } from '../../db/notices.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { Channel, Sent } from './channel.ts';
import { GIVEN_UP_BOUND, retryWait } from './retry.ts';

/**
 * Sends what is due: claims a row under a lease, hands it to its channel, writes what came of it. Whoever dies between the
 * two leaves the row to whoever comes when the lease is over, and the message goes again with the same id.
 */
export interface Sender {
  readonly database: Database;
  /** by kind; one that isn't set up here is missing */
  readonly channels: Partial<Record<ChannelKind, Channel>>;
  readonly now: () => Instant;
  readonly dice: () => number;
}

export interface Delivered {
  readonly delivery: ClaimedDelivery;
  /** of its channel; null: that is gone */
  readonly by: ChannelKind | null;
  readonly sent: Sent;
}

/** longer than any channel may take for one message */
const LEASE = 60 * SECOND;

/** One delivery; null: none is due. */
export async function deliverOne(sender: Sender): Promise<Delivered | null> {
  const now = sender.now();
  const delivery = await claimDelivery(sender.database, now, now + LEASE);
  if (delivery === null) return null;
  const { by, sent } = await send(sender, delivery);
  await sender.database.transaction({ name: 'end-delivery' }, (queries) =>
    keepResult(queries, sender, delivery, sent),
  );
  return { delivery, by, sent };
}

async function send(
  { database, channels }: Sender,
  delivery: ClaimedDelivery,
): Promise<Pick<Delivered, 'by' | 'sent'>> {
  const to = await readChannel(database, delivery.channel);
  if (to === null) return { by: null, sent: { kind: 'never', answer: 'the channel is gone' } };
  return { by: to.kind, sent: await sendTo(to, channels, delivery) };
}

async function sendTo(
  to: ChannelRow,
  channels: Sender['channels'],
  delivery: ClaimedDelivery,
): Promise<Sent> {
  const isTest = delivery.reason === 'test';
  if (to.disabledAt !== null && !isTest)
    return { kind: 'never', answer: `disabled: ${to.disabledWhy ?? ''}` };
  const channel = channels[to.kind];
  if (!channel) return { kind: 'never', answer: `${to.kind} isn’t set up on this server` };
  return channel.send({ to, delivery });
}

async function keepResult(
  queries: Queries,
  { now, dice }: Sender,
  { id, channel, attempts, reason }: ClaimedDelivery,
  { kind, answer }: Sent,
): Promise<void> {
  const at = now();
  if (kind === 'accepted') {
    await endDelivery(queries, id, { state: 'accepted', answer }, at);
    await forgetGivenUp(queries, channel);
    return;
  }
  // somebody stands before the screen and waits for a test: it is tried once
  const wait = kind === 'later' && reason !== 'test' ? retryWait(attempts, dice()) : null;
  if (wait !== null) {
    await postponeDelivery(queries, id, at + wait, answer);
    return;
  }
  await endDelivery(queries, id, { state: 'given-up', answer }, at);
  if (reason === 'test') return;
  if (kind === 'gone') await disableChannel(queries, channel, answer, at);
  else if ((await countGivenUp(queries, channel)) >= GIVEN_UP_BOUND)
    await disableChannel(
      queries,
      channel,
      `${GIVEN_UP_BOUND} messages in a row were given up: ${answer}`,
      at,
    );
}
