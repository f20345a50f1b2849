import { afterEach, expect, test } from 'vitest';
import type { Channel, Sent } from '../../server/notify/channel.ts';
import { makeMail } from '../../server/notify/mail.ts';
import { makeCertificate } from '../fixtures/certificate.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/**
 * E-mail over TLS, to a real SMTP server with a certificate of this test's own. 0.0.0.0 leads to this machine and is none of
 * its names: what must be raised to TLS off loopback must be there too.
 */
const HOST = '0.0.0.0';
const FROM = 'Holdoff <holdoff@example.org>';
let smtp: Smtp | null = null;
let channel: Channel | null = null;
afterEach(async () => {
  await channel?.close();
  await smtp?.stop();
});

async function sendTo(url: string, ca: string | null): Promise<Sent> {
  channel = makeMail({ url, from: FROM, ca });
  const body = { subject: 'Pine Ridge, U2', text: 'a\n', short: 'a', data: {} };
  return channel.send({
    to: {
      ...{ id: 'c', person: 'p', kind: 'e-mail', address: 'ann@example.org', label: null, secret: null },
      ...{ madeAt: 0, verifiedAt: null, disabledAt: null, disabledWhy: null },
    },
    delivery: {
      ...{ id: 1, notice: null, channel: 'c', reason: 'page', messageId: 'm', attempts: 1, madeAt: 0 },
      body,
    },
  });
}

test('smtps:// speaks TLS from the start', async () => {
  const own = makeCertificate(HOST);
  smtp = await startSmtp({ ...own, secure: true });
  expect(await sendTo(`smtps://${HOST}:${smtp.port}`, own.cert)).toMatchObject({ kind: 'accepted' });
  expect(smtp.mails).toMatchObject([{ to: 'ann@example.org', secure: true }]);
});

test('smtp:// is raised to TLS before anything is said', async () => {
  const own = makeCertificate(HOST);
  smtp = await startSmtp(own);
  expect(await sendTo(`smtp://${HOST}:${smtp.port}`, own.cert)).toMatchObject({ kind: 'accepted' });
  expect(smtp.mails).toMatchObject([{ to: 'ann@example.org', secure: true }]);
});

test('where it can’t be raised nothing is sent, and that is said', async () => {
  smtp = await startSmtp();
  const sent = await sendTo(`smtp://${HOST}:${smtp.port}`, null);
  expect(sent.kind).toBe('later');
  expect(sent.answer).toMatch(/^The mail server doesn’t speak TLS, and nothing is sent without it/);
  expect(smtp.mails).toEqual([]);
});

test.each(['smtps', 'smtp'])(
  '%s:// with a certificate of nobody we know: refused, and what to do',
  async (kind) => {
    smtp = await startSmtp({ ...makeCertificate(HOST), secure: kind === 'smtps' });
    const sent = await sendTo(`${kind}://${HOST}:${smtp.port}`, null);
    expect(sent.kind).toBe('later');
    expect(sent.answer).toMatch(/certificate isn’t trusted \(self-signed certificate\).*SMTP_CA/);
    expect(smtp.mails).toEqual([]);
  },
);

test.each([
  ['another’s name', makeCertificate('mail.example.org'), /isn’t trusted \(.*0\.0\.0\.0/],
  [
    'the day before yesterday’s',
    makeCertificate(HOST, { from: Date.now() - 48 * 3_600_000 }),
    /isn’t trusted \(certificate has expired\)/,
  ],
])('%s certificate is refused though it is known', async (_, certificate, says) => {
  smtp = await startSmtp({ ...certificate, secure: true });
  const sent = await sendTo(`smtps://${HOST}:${smtp.port}`, certificate.cert);
  expect(sent.kind).toBe('later');
  expect(sent.answer).toMatch(says);
  expect(smtp.mails).toEqual([]);
});
