import { createHmac } from 'node:crypto';
import { formatInstant, inSeconds } from '../../shared/base/instant.ts';
import { errorLine, type Channel, type Sent } from './channel.ts';

/**
 * Webhooks, signed as Standard Webhooks lays down: HMAC-SHA-256 over id, time and body with the secret behind `whsec_`.
 * The id stays the same however often a message is tried; redirections aren't followed; 410 disables.
 */
const TIMEOUT_MS = 15_000;

export interface Signed {
  readonly secret: string;
  readonly id: string;
  /** Unix seconds */
  readonly timestamp: number;
  readonly body: string;
}

/** `v1,<base64>` */
export function signWebhook({ secret, id, timestamp, body }: Signed): string {
  const key = Buffer.from(secret.replace(/^whsec_/, ''), 'base64');
  return `v1,${createHmac('sha256', key).update(`${id}.${timestamp}.${body}`).digest('base64')}`;
}

export function makeWebhook(now: () => number): Channel {
  const stopping = new AbortController();
  return {
    async send({ to, delivery }) {
      const id = `msg_${delivery.messageId}`;
      const timestamp = Math.floor(inSeconds(now()));
      const body = JSON.stringify({
        type: `alarm.${delivery.reason}`,
        timestamp: formatInstant(delivery.madeAt),
        data: delivery.body.data,
      });
      const signal = AbortSignal.any([stopping.signal, AbortSignal.timeout(TIMEOUT_MS)]);
      return postSigned(to.address, { secret: to.secret ?? '', id, timestamp, body }, signal);
    },
    close: () => {
      stopping.abort();
      return Promise.resolve();
    },
  };
}

/** One attempt; `secret` null: nothing is signed. */
export async function postSigned(
  url: string,
  { secret, id, timestamp, body }: Omit<Signed, 'secret'> & { readonly secret: string | null },
  signal: AbortSignal,
): Promise<Sent> {
  const signature = secret === null ? null : signWebhook({ secret, id, timestamp, body });
  try {
    const response = await fetch(url, {
      method: 'POST',
      redirect: 'manual',
      headers: {
        'content-type': 'application/json',
        'webhook-id': id,
        'webhook-timestamp': String(timestamp),
        ...(signature === null ? {} : { 'webhook-signature': signature }),
      },
      body,
      signal,
    });
    await response.body?.cancel();
    return sentBy(response);
  } catch (error) {
    return { kind: 'later', answer: errorLine((error as Error).cause ?? error) };
  }
}

function sentBy({ ok, status, statusText }: Response): Sent {
  const answer = `${status} ${statusText}`.trim();
  if (ok) return { kind: 'accepted', answer };
  if (status === 410) return { kind: 'gone', answer };
  return { kind: 'later', answer };
}
