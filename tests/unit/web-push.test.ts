import { webcrypto } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { isPublicAddress, refusedUrl } from '../../server/notify/public-address.ts';
import { encryptPush, LONGEST_MESSAGE, readDevice } from '../../server/notify/push-encryption.ts';
import { freshPushKey, makeSender } from '../../server/notify/vapid.ts';
import { parseInstant } from '../../shared/base/instant.ts';
import { pushMessage } from '../../shared/wire/push-message.ts';
import { claimsOf, readAsDevice } from '../fixtures/push-service.ts';

const octets = (text: string): Buffer => Buffer.from(text, 'base64url');

/** RFC 8291, section 5 (example) with the values of appendix A. */
const EXAMPLE = {
  message: 'When I grow up, I want to be a watermelon',
  receiverPrivate: octets('q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94'),
  receiverPublic: octets(
    'BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4',
  ),
  secret: octets('BTBZMqHH6r4Tts7J_aSIgg'),
  senderPrivate: octets('yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw'),
  salt: octets('DGv6ra1nlYgDCS1FRnbzlw'),
  body:
    'DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl' +
    '7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN',
};

describe('the example of RFC 8291', () => {
  const device = { publicKey: EXAMPLE.receiverPublic, secret: EXAMPLE.secret };
  test('is what we send, to the octet', () => {
    const fresh = { privateKey: EXAMPLE.senderPrivate, salt: EXAMPLE.salt };
    const body = encryptPush(Buffer.from(EXAMPLE.message), device, fresh);
    expect(body.toString('base64url')).toBe(EXAMPLE.body);
  });

  test('is read by the code that stands for a device in other tests', async () => {
    const [, x, y] = [0, 1, 33].map((from) => EXAMPLE.receiverPublic.subarray(from, from + 32));
    const key = {
      kty: 'EC',
      crv: 'P-256',
      d: EXAMPLE.receiverPrivate.toString('base64url'),
      x: x!.toString('base64url'),
      y: y!.toString('base64url'),
    };
    const curve = { name: 'ECDH', namedCurve: 'P-256' };
    const privateKey = await webcrypto.subtle.importKey('jwk', key, curve, false, ['deriveBits']);
    const keys = { ...device, privateKey };
    expect(await readAsDevice(octets(EXAMPLE.body), keys)).toBe(EXAMPLE.message);
    // made with other keys and another salt each time, and the longest that fits into 4,096 octets
    const longest = 'x'.repeat(LONGEST_MESSAGE);
    const [one, other] = [
      encryptPush(Buffer.from(longest), device),
      encryptPush(Buffer.from(longest), device),
    ];
    expect(one.length).toBe(4096);
    expect(one.subarray(0, 86).equals(other.subarray(0, 86))).toBe(false);
    expect(await readAsDevice(one, keys)).toBe(longest);
    expect(() => encryptPush(Buffer.from(`${longest}x`), device)).toThrow('at most 3993');
  });
});

test('keys that are none are seen when a device is subscribed', () => {
  const point = EXAMPLE.receiverPublic.toString('base64url');
  const secret = EXAMPLE.secret.toString('base64url');
  expect(readDevice(`${point}.${secret}`)).not.toBeNull();
  const offCurve = Buffer.from(EXAMPLE.receiverPublic);
  offCurve[64]! ^= 1;
  for (const text of [null, '', point, `${point}.AA`, `${offCurve.toString('base64url')}.${secret}`])
    expect(readDevice(text)).toBeNull();
});

test('who sends is signed for one push service, for twelve hours (RFC 8292)', async () => {
  const sender = makeSender(freshPushKey(), 'mailto:holdoff@example.org');
  const now = parseInstant('2026-06-10T06:38:21Z')!;
  const header = sender.authorize('https://push.example.net:8443/p/abc?d=e', now);
  expect(header.endsWith(`, k=${sender.publicKey}`)).toBe(true);
  expect(await claimsOf(header)).toEqual({
    aud: 'https://push.example.net:8443',
    exp: Date.parse('2026-06-10T18:38:21Z') / 1000,
    sub: 'mailto:holdoff@example.org',
  });
  const [, token] = /t=([^,]+)/.exec(header)!;
  const forged = header.replace(token!, `${token!.slice(0, -4)}AAAA`);
  await expect(claimsOf(forged)).rejects.toThrow('isn’t signed');
});

describe('where a device may make this server call', () => {
  // IANA special-purpose address registries (RFC 6890)
  test.each([
    ...['127.0.0.1', '10.1.2.3', '172.31.0.1', '192.168.1.1', '169.254.169.254', '100.64.0.1', '0.0.0.0'],
    ...['224.0.0.1', '255.255.255.255', '::1', '::', '::ffff:10.0.0.1', 'fe80::1', 'fd00::1', 'ff02::1'],
    ...['64:ff9b::a00:1', '2002:a00:1::', '2001:db8::1'],
  ])('not %s', (address) => {
    expect(isPublicAddress(address)).toBe(false);
    expect(refusedUrl(`https://${address.includes(':') ? `[${address}]` : address}/p/1`)).toMatch(
      /this machine or to a private network/,
    );
  });
  test.each(['192.88.98.1', '172.32.0.1', '11.0.0.1', '2606:2800:21f::1'])('%s', (address) => {
    expect(isPublicAddress(address)).toBe(true);
  });
  test.each([
    ['http://push.example.net/p/1', /begin with https/],
    ['https://ann:x@push.example.net/p/1', /no name or password/],
    ['file:///etc/passwd', /begin with https/],
    ['https://localhost/p/1', /this machine/],
    ['https://2130706433/p/1', /this machine/],
    ['https://0x7f.1/p/1', /this machine/],
  ])('not %s', (url, why) => {
    expect(refusedUrl(url)).toMatch(why);
  });
  test('a name is held against the same when it is looked up', () => {
    expect(refusedUrl('https://push.example.net/p/1')).toBeNull();
  });
});

test('a device shows the short form, and never the key to the alarm', () => {
  const short =
    'Pine Ridge U2 hard lockout 02:38, high press. U1 cooling. Go now. Accept: https://h.example/a/1-abcdefghijklmnop';
  expect(pushMessage({ notice: 'n', reason: 'page', body: { short, data: { alarm: 'a1' } } })).toEqual({
    title: 'Pine Ridge U2 hard lockout',
    body: '02:38, high press. U1 cooling. Go now.',
    alarm: 'a1',
    tag: 'n',
    insists: true,
  });
  const test = {
    notice: null,
    reason: 'test',
    body: {
      short: 'Test from Holdoff: nothing has happened. It came from https://h.example/',
      data: { test: true },
    },
  };
  expect(pushMessage(test)).toMatchObject({
    title: 'Test from Holdoff: nothing has happened.',
    alarm: null,
    insists: false,
  });
});
