import { randomBytes } from 'node:crypto';
import type { Logger } from 'pino';
import { readLinkKey, trimAcceptLinks } from '../../db/accept-links.ts';
import type { ChannelKind } from '../../db/channels.ts';
import { trimDigests } from '../../db/digests.ts';
import { trimDeliveries } from '../../db/notices.ts';
import type { Database } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Setups } from '../follow/setup.ts';
import type { Notices } from '../service.ts';
import type { Channel } from './channel.ts';
import { startDigester } from './digester.ts';
import { makeMail } from './mail.ts';
import { startNotifier, type Notifier, type NotifyObservation } from './notifier.ts';
import type { NotifySettings } from './settings.ts';
import { makeShortMessage } from './short-message.ts';
import type { Decider } from './take-escalation.ts';
import { makeWebhook } from './webhook.ts';

/** Composes what tells people: channels as the settings have them, the key that signs links, the loop, its housekeeping. */
export interface NoticesOptions {
  readonly database: Database;
  readonly settings: NotifySettings;
  readonly now: () => Instant;
  readonly logger: Logger;
  readonly readFacts: Decider['readFacts'];
  readonly setups: Setups;
  /** where this machine itself reaches the server, while no other address is set */
  readonly localUrl: string;
  readonly count: (observation: NotifyObservation) => void;
}

const HOUSE_EVERY_MS = 3_600_000;

/** Read before anything is served: routes stand on it. */
export async function readNotices(database: Database, settings: NotifySettings): Promise<Notices> {
  return {
    linkKey: await readLinkKey(database, randomBytes(32)),
    publicUrl: settings.publicUrl,
    kinds: [
      ...(settings.mail === null ? [] : (['e-mail'] as const)),
      'webhook',
      ...(settings.shortMessage === null ? [] : (['short-message'] as const)),
    ],
  };
}

export function startNotices(options: NoticesOptions, notices: Notices): Notifier {
  const { database, settings, now, logger } = options;
  const notifier = startNotifier({
    decider: {
      database,
      now,
      readFacts: options.readFacts,
      linkKey: notices.linkKey,
      publicUrl: notices.publicUrl ?? options.localUrl,
    },
    sender: { database, channels: channelsOf(settings, now), now, dice: Math.random },
    observe: (observation) => {
      options.count(observation);
      log(logger, observation);
    },
  });
  const publicUrl = notices.publicUrl ?? options.localUrl;
  const digester = startDigester({ database, setups: options.setups, now, publicUrl }, (error) =>
    logger.error({ err: error }, 'making digests failed; it is tried again'),
  );
  const house = setInterval(() => void clean(options), HOUSE_EVERY_MS);
  house.unref();
  return {
    nudge: () => notifier.nudge(),
    async stop() {
      clearInterval(house);
      await digester.stop();
      await notifier.stop();
    },
  };
}

function channelsOf(
  { mail, shortMessage }: NotifySettings,
  now: () => Instant,
): Partial<Record<ChannelKind, Channel>> {
  return {
    webhook: makeWebhook(now),
    ...(mail === null ? {} : { 'e-mail': makeMail(mail) }),
    ...(shortMessage === null ? {} : { 'short-message': makeShortMessage(shortMessage) }),
  };
}

async function clean({ database, now, logger }: NoticesOptions): Promise<void> {
  try {
    await trimDeliveries(database, now());
    await trimAcceptLinks(database, now());
    await trimDigests(database, now());
  } catch (error) {
    logger.error({ err: error }, 'old deliveries couldn’t be cleared away; it is tried again');
  }
}

function log(logger: Logger, observation: NotifyObservation): void {
  switch (observation.kind) {
    case 'decided': {
      const { alarm, state, messages, unreachable } = observation.taken;
      logger.info({ alarm, state, messages: messages.length }, 'an escalation was decided');
      if (unreachable.length > 0)
        logger.warn({ alarm, people: unreachable }, 'somebody was to be told and has no channel');
      return;
    }
    case 'sent': {
      const { delivery, sent } = observation.delivered;
      const line = { delivery: delivery.id, attempt: delivery.attempts, answer: sent.answer };
      if (sent.kind === 'accepted') logger.info(line, 'a message was handed over');
      else logger.warn({ ...line, outcome: sent.kind }, 'a message couldn’t be handed over');
      return;
    }
    case 'failed':
      logger.error(
        { err: observation.error, what: observation.what },
        'telling people failed; it is tried again',
      );
  }
}
