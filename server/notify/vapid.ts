import { createECDH, createPrivateKey, generateKeyPairSync, sign, type KeyObject } from 'node:crypto';
import { inSeconds, SECOND, type Instant } from '../../shared/base/instant.ts';

/** Who sends, shown to push services (RFC 8292): a short-lived token for one service, signed with the key of this installation. */
export interface Sender {
  /** as browsers take it when a device is subscribed: base64url of the uncompressed point */
  readonly publicKey: string;
  /** the Authorization header for an endpoint */
  authorize(endpoint: string, now: Instant): string;
}

/** at most 24 h (RFC 8292 section 2); less, so that a clock that is off costs nothing */
const GOOD_FOR = 12 * 3600 * SECOND;

export function makeSender(privateKey: Buffer, contact: string | null): Sender {
  const ecdh = createECDH('prime256v1');
  ecdh.setPrivateKey(privateKey);
  const point = ecdh.getPublicKey();
  const publicKey = point.toString('base64url');
  const key = keyObject(privateKey, point);
  return {
    publicKey,
    authorize(endpoint, now) {
      const claims = {
        aud: new URL(endpoint).origin,
        exp: Math.floor(inSeconds(now + GOOD_FOR)),
        ...(contact === null ? {} : { sub: contact }),
      };
      const text = `${encoded({ typ: 'JWT', alg: 'ES256' })}.${encoded(claims)}`;
      const signature = sign('sha256', Buffer.from(text), { key, dsaEncoding: 'ieee-p1363' });
      return `vapid t=${text}.${signature.toString('base64url')}, k=${publicKey}`;
    },
  };
}

/** 32 octets, for a first start. */
export function freshPushKey(): Buffer {
  const { d } = generateKeyPairSync('ec', { namedCurve: 'P-256' }).privateKey.export({ format: 'jwk' });
  return Buffer.from(d!, 'base64url');
}

const keyObject = (privateKey: Buffer, point: Buffer): KeyObject =>
  createPrivateKey({
    format: 'jwk',
    key: {
      kty: 'EC',
      crv: 'P-256',
      d: privateKey.toString('base64url'),
      x: point.subarray(1, 33).toString('base64url'),
      y: point.subarray(33).toString('base64url'),
    },
  });

const encoded = (value: unknown): string => Buffer.from(JSON.stringify(value)).toString('base64url');
