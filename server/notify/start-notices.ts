import { randomBytes } from 'node:crypto';
import type { Logger } from 'pino';
import { readLinkKey, trimAcceptLinks } from '../../db/accept-links.ts';
import type { ChannelKind } from '../../db/channels.ts';
import { trimDigests } from '../../db/digests.ts';
import { trimDeliveries } from '../../db/notices.ts';
import type { Database } from '../../db/pool.ts';
import { readPushKey } from '../../db/push-keys.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Setups } from '../follow/setup.ts';
import type { Notices } from '../service.ts';
import type { Channel } from './channel.ts';
import { startDigester } from './digester.ts';
import { makeMail } from './mail.ts';
import { startNotifier, type Notifier, type NotifyObservation } from './notifier.ts';
import type { NotifySettings } from './settings.ts';
import { makeShortMessage, makeVoice } from './short-message.ts';
import type { Decider } from './take-escalation.ts';
import { freshPushKey, makeSender } from './vapid.ts';
import { makeWebPush } from './web-push.ts';
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
  const contact = contactOf(settings);
  return {
    linkKey: await readLinkKey(database, randomBytes(32)),
    publicUrl: settings.publicUrl,
    kinds: [
      ...(settings.mail === null ? [] : (['e-mail'] as const)),
      'web-push',
      'webhook',
      ...(settings.shortMessage === null ? [] : (['short-message'] as const)),
      ...(settings.voice === null ? [] : (['voice'] as const)),
    ],
    pushSender: makeSender(await readPushKey(database, freshPushKey()), contact),
    pushIsLocal: settings.pushIsLocal,
  };
}

/** Whom a push service may turn to (RFC 8292 section 2.1): a mail address, else where this server is. */
function contactOf({ mail, publicUrl }: NotifySettings): string | null {
  const address = mail === null ? null : (/[^\s<]+@[^\s>]+/.exec(mail.from)?.[0] ?? null);
  if (address !== null) return `mailto:${address}`;
  return publicUrl?.startsWith('https:') ? publicUrl : null;
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
    sender: { database, channels: channelsOf(settings, notices, now), now, dice: Math.random },
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
  { mail, shortMessage, voice }: NotifySettings,
  { pushSender: sender, pushIsLocal: isLocal }: Notices,
  now: () => Instant,
): Partial<Record<ChannelKind, Channel>> {
  return {
    webhook: makeWebhook(now),
    'web-push': makeWebPush({ sender, now, isLocal }),
    ...(mail === null ? {} : { 'e-mail': makeMail(mail) }),
    ...(shortMessage === null ? {} : { 'short-message': makeShortMessage(shortMessage) }),
    ...(voice === null ? {} : { voice: makeVoice(voice) }),
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
      const line = { delivery: delivery.id, attempt: delivery.attempts, reason: sent.answer };
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
