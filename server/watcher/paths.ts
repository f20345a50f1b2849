import { formatInstant, inSeconds, type Instant } from '../../shared/base/instant.ts';
import type { WatcherText } from '../../shared/wire/watcher-text.ts';
import type { Sent } from '../notify/channel.ts';
import { makeMail, type MailOptions } from '../notify/mail.ts';
import { postSigned } from '../notify/webhook.ts';

/**
 * The second path: by itself, with no row and no queue of the database, for that may be what has failed. What couldn't be
 * handed over is tried again with the same id.
 */
export interface PathSettings {
  readonly webhook: { readonly url: string; readonly secret: string | null } | null;
  readonly mail: { readonly to: string; readonly by: MailOptions } | null;
}

export interface Outgoing extends WatcherText {
  readonly id: string;
  readonly kind: 'watcher.trouble' | 'watcher.over' | 'watcher.heartbeat';
  readonly data: unknown;
  readonly at: Instant;
}

export interface Path {
  readonly name: 'webhook' | 'mail';
  send(message: Outgoing): Promise<Sent>;
}

const TIMEOUT_MS = 15_000;

export function makePaths({ webhook, mail }: PathSettings, now: () => Instant) {
  const stopping = new AbortController();
  const paths: Path[] = [];
  if (webhook)
    paths.push({ name: 'webhook', send: (message) => post(webhook, message, now(), stopping.signal) });
  const channel = mail && makeMail(mail.by);
  if (mail && channel)
    paths.push({ name: 'mail', send: (message) => channel.send(mailOf(mail.to, message)) });
  return {
    paths,
    async close(): Promise<void> {
      stopping.abort();
      await channel?.close();
    },
  };
}

function post(
  { url, secret }: NonNullable<PathSettings['webhook']>,
  { id, kind, data, at, subject }: Outgoing,
  now: Instant,
  signal: AbortSignal,
): Promise<Sent> {
  const body = JSON.stringify({
    type: kind,
    timestamp: formatInstant(at),
    data: { says: subject, ...(data as object) },
  });
  const signed = { id: `msg_${id}`, timestamp: Math.floor(inSeconds(now)), body, secret };
  return postSigned(url, signed, AbortSignal.any([signal, AbortSignal.timeout(TIMEOUT_MS)]));
}

const mailOf = (address: string, { id, subject, text, at, data }: Outgoing) => ({
  to: {
    id: 'watcher',
    person: '',
    kind: 'e-mail' as const,
    address,
    secret: null,
    madeAt: at,
    verifiedAt: null,
    disabledAt: null,
    disabledWhy: null,
    label: null,
  },
  delivery: {
    id: 0,
    notice: null,
    channel: 'watcher',
    reason: 'watcher',
    messageId: id,
    body: { subject, text, short: subject, data },
    attempts: 1,
    madeAt: at,
  },
});
