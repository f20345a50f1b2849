import { createHmac, timingSafeEqual } from 'node:crypto';

/**
 * The link in a message: `<number>-<signature>`, short enough for a short message. The number names a row with its alarm,
 * its person and its end; the signature is the first 96 bits of HMAC-SHA-256 over number and purpose, which nobody can
 * guess in the time that a link is good for. Neither says anything to whoever finds it.
 */
export const signLink = (key: Buffer, number: number): string =>
  `${number.toString(36)}-${sign(key, 'accept', String(number))}`;

/** The number, or null where the signature isn't ours. */
export function readLink(key: Buffer, text: string): number | null {
  const parts = /^([0-9a-z]{1,11})-([\w-]{16})$/.exec(text);
  if (!parts) return null;
  const number = parseInt(parts[1]!, 36);
  if (!Number.isSafeInteger(number)) return null;
  return isSame(parts[2]!, sign(key, 'accept', String(number))) ? number : null;
}

/** The address of a calendar feed can't be guessed either; it lasts until the roster is gone. */
export const signFeed = (key: Buffer, roster: string): string => sign(key, 'feed', roster);

export const isFeed = (key: Buffer, roster: string, given: string): boolean =>
  isSame(given, signFeed(key, roster));

const sign = (key: Buffer, purpose: string, what: string): string =>
  createHmac('sha256', key).update(`${purpose}:${what}`).digest().subarray(0, 12).toString('base64url');

/** In a time that tells nothing about either. */
const isSame = (a: string, b: string): boolean => {
  const [one, other] = [Buffer.from(a), Buffer.from(b)];
  return one.length === other.length && timingSafeEqual(one, other);
};
