import { request as requestPlain, type IncomingMessage } from 'node:http';
import { request as requestSecure, type RequestOptions } from 'node:https';
import type { ClaimedDelivery } from '../../db/notices.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { pushMessage } from '../../shared/wire/push-message.ts';
import { errorLine, type Channel, type Sent } from './channel.ts';
import { publicLookup, refusedUrl } from './public-address.ts';
import { encryptPush, readDevice } from './push-encryption.ts';
import type { Sender } from './vapid.ts';

/**
 * Web push: one message to a push service (RFC 8030), readable by the device alone (RFC 8291), with who sends it (RFC 8292).
 * A message takes the place of an undelivered one of the same notice (its topic). A subscription that is gone (404, 410)
 * disables the channel.
 */
export interface WebPushOptions {
  readonly sender: Sender;
  readonly now: () => Instant;
  /** push services on this machine or in its network are called too, and over HTTP */
  readonly isLocal: boolean;
}

const TIMEOUT_MS = 15_000;
/** how long a service keeps it for a device that is off: as long as the link in a message is good; a test, while somebody looks */
const KEPT_SECONDS = 24 * 3600;
const TEST_KEPT_SECONDS = 300;

export function makeWebPush(options: WebPushOptions): Channel {
  const stopping = new AbortController();
  return {
    async send({ to, delivery }) {
      const device = readDevice(to.secret);
      if (device === null)
        return { kind: 'gone', answer: 'the device’s keys are no keys: subscribe it again' };
      const refused = options.isLocal ? null : refusedUrl(to.address);
      if (refused !== null) return { kind: 'gone', answer: refused };
      const body = encryptPush(Buffer.from(JSON.stringify(pushMessage(delivery))), device);
      try {
        const { statusCode = 0, statusMessage = '' } = await post(to.address, body, {
          headers: {
            ...headersOf(delivery),
            'content-length': body.length,
            authorization: options.sender.authorize(to.address, options.now()),
          },
          signal: AbortSignal.any([stopping.signal, AbortSignal.timeout(TIMEOUT_MS)]),
          ...(options.isLocal ? {} : { lookup: publicLookup as NonNullable<RequestOptions['lookup']> }),
        });
        return sentBy(statusCode, `${statusCode} ${statusMessage}`.trim());
      } catch (error) {
        return { kind: 'later', answer: errorLine(error) };
      }
    },
    close: () => {
      stopping.abort();
      return Promise.resolve();
    },
  };
}

/** RFC 8030 sections 5.2 to 5.4: how long it is kept, how urgent it is, which one it replaces. */
const headersOf = ({ notice, reason }: ClaimedDelivery) => ({
  'content-type': 'application/octet-stream',
  'content-encoding': 'aes128gcm',
  ttl: String(reason === 'test' ? TEST_KEPT_SECONDS : KEPT_SECONDS),
  urgency: reason === 'cleared' || reason === 'taken' ? 'normal' : 'high',
  // 22 letters of base64url, of which 32 are allowed
  ...(notice === null ? {} : { topic: Buffer.from(notice.replaceAll('-', ''), 'hex').toString('base64url') }),
});

/** Redirections aren’t followed; of the answer its first line alone is read. */
function post(url: string, body: Buffer, options: RequestOptions): Promise<IncomingMessage> {
  const request = url.startsWith('https:') ? requestSecure : requestPlain;
  return new Promise((answered, failed) => {
    const asked = request(url, { ...options, method: 'POST', agent: false }, (response) => {
      response.on('error', () => {});
      response.destroy();
      answered(response);
    });
    asked.on('error', failed);
    asked.end(body);
  });
}

function sentBy(status: number, answer: string): Sent {
  if (status >= 200 && status < 300) return { kind: 'accepted', answer };
  if (status === 404 || status === 410) return { kind: 'gone', answer };
  return { kind: status === 429 || status >= 500 ? 'later' : 'never', answer };
}
