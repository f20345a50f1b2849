import { createCipheriv, createECDH, hkdfSync, randomBytes } from 'node:crypto';

/**
 * A message that only one device can read: RFC 8291 (keys from both sides and the device's secret) in the content coding
 * aes128gcm of RFC 8188, as one record.
 */
const CURVE = 'prime256v1';
const RECORD_OCTETS = 4096;
/** what of a record is left for the message: without header, tag and delimiter (RFC 8291 section 4) */
export const LONGEST_MESSAGE = 3993;

export interface Device {
  /** P-256 point, uncompressed, 65 octets */
  readonly publicKey: Buffer;
  /** 16 octets */
  readonly secret: Buffer;
}

/** What is made anew for every message; given only by the test of the RFC's example. */
export interface Fresh {
  readonly privateKey: Buffer;
  readonly salt: Buffer;
}

export function encryptPush(message: Buffer, device: Device, fresh?: Fresh): Buffer {
  if (message.length > LONGEST_MESSAGE)
    throw new RangeError(`${message.length} octets: at most ${LONGEST_MESSAGE}`);
  const ours = createECDH(CURVE);
  if (fresh) ours.setPrivateKey(fresh.privateKey);
  else ours.generateKeys();
  const salt = fresh?.salt ?? randomBytes(16);
  const publicKey = ours.getPublicKey();
  const parties = Buffer.concat([Buffer.from('WebPush: info\0'), device.publicKey, publicKey]);
  const shared = derived(ours.computeSecret(device.publicKey), device.secret, parties, 32);
  const key = derived(shared, salt, Buffer.from('Content-Encoding: aes128gcm\0'), 16);
  const nonce = derived(shared, salt, Buffer.from('Content-Encoding: nonce\0'), 12);
  const cipher = createCipheriv('aes-128-gcm', key, nonce);
  // 2: the last record, which has no padding behind it
  const sealed = [cipher.update(message), cipher.update(Buffer.of(2)), cipher.final(), cipher.getAuthTag()];
  return Buffer.concat([salt, uint32(RECORD_OCTETS), Buffer.of(publicKey.length), publicKey, ...sealed]);
}

const derived = (material: Buffer, salt: Buffer, use: Buffer, octets: number): Buffer =>
  Buffer.from(hkdfSync('sha256', material, salt, use, octets));

const uint32 = (value: number): Buffer => {
  const four = Buffer.alloc(4);
  four.writeUInt32BE(value);
  return four;
};

/** As it is kept beside a channel: both in base64url, a dot between. null: neither a point of the curve nor 16 octets. */
export function readDevice(text: string | null): Device | null {
  const [publicKey, secret] = (text ?? '').split('.').map((part) => Buffer.from(part, 'base64url'));
  if (publicKey?.length !== 65 || secret?.length !== 16) return null;
  try {
    const any = createECDH(CURVE);
    any.generateKeys();
    any.computeSecret(publicKey);
  } catch {
    return null;
  }
  return { publicKey, secret };
}
