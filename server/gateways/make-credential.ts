import { randomBytes, X509Certificate } from 'node:crypto';
import {
  endCredential,
  holdGateway,
  insertCredential,
  readStanding,
  type CredentialRow,
  type NewCredential,
} from '../../db/gateway-credentials.ts';
import { keptPassword, newPassword } from '../../db/kept-password.ts';
import type { Queries } from '../../db/pool.ts';
import { formatInstant, instantFromMilliseconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { OVERLAP_HOURS, type CredentialAsk } from '../../shared/wire/gateway-access.ts';

/**
 * A gateway's credential: a user and password made here, or a certificate that was made elsewhere. Of a certificate we keep the
 * certificate alone: its key stays in the gateway, no authority of ours must be guarded, and one that is revoked is
 * refused at its next connection without a list of revocations.
 */
export interface MakeAsk extends CredentialAsk {
  readonly site: string;
  readonly gateway: string;
  readonly by: string;
  readonly now: Instant;
}

export type Made =
  | { readonly ok: true; readonly row: CredentialRow; readonly password: string | null }
  | {
      readonly ok: false;
      readonly code: 'bad-request' | 'conflict';
      readonly pointer: string;
      readonly says: string;
    };

/** A gateway is changed from one to the other without loss: two at a time, and no more. */
const STANDING_BOUND = 2;

/** In a transaction. */
export async function makeCredential(queries: Queries, ask: MakeAsk): Promise<Made> {
  const { site, gateway, now, replaces } = ask;
  const shown = await drawUp(ask);
  if (!shown.ok) return shown;
  await holdGateway(queries, site, gateway);
  const standing = await readStanding(queries, { site, gateway, now });
  const old = standing.find(({ id }) => id === replaces);
  if (replaces !== undefined && !old)
    return no('bad-request', '/replaces', 'That one doesn’t stand any more: leave it out.');
  if (standing.length >= STANDING_BOUND)
    return no(
      'conflict',
      '',
      `This gateway has ${STANDING_BOUND} credentials already: revoke the one that isn’t used, or wait for its end.`,
    );
  const row = await insertCredential(queries, shown.made);
  if (row === null)
    return no(
      'conflict',
      shown.made.kind === 'certificate' ? '/certificate' : '',
      `“${shown.made.username}” is known already. Give each certificate a common name of its own, such as one with the year.`,
    );
  const overlap = seconds(3600) * (ask.overlapHours ?? OVERLAP_HOURS.usual);
  if (old) await endCredential(queries, old.id, now + overlap);
  return { ok: true, row, password: shown.password };
}

type DrawnUp = { readonly ok: true; readonly made: NewCredential; readonly password: string | null };
type No = Extract<Made, { ok: false }>;
const no = (code: No['code'], pointer: string, says: string): No => ({ ok: false, code, pointer, says });

async function drawUp(ask: MakeAsk): Promise<DrawnUp | No> {
  const { site, gateway, by, now, kind, certificate } = ask;
  const common = { site, gateway, now, madeBy: by };
  if (kind === 'certificate') {
    if (certificate === undefined) return no('bad-request', '/certificate', 'Paste the certificate, in PEM.');
    const read = readCertificate(certificate, now);
    if (!read.ok) return read;
    return { ok: true, password: null, made: { ...common, kind, secret: null, ...read } };
  }
  if (certificate !== undefined)
    return no(
      'bad-request',
      '/certificate',
      'A password has no certificate: leave it out, or choose the other kind.',
    );
  const password = newPassword();
  const username = `${site.slice(0, 50)}.${gateway.slice(0, 50)}.${randomBytes(4).toString('hex')}`;
  const secret = await keptPassword(password);
  const made = { ...common, kind, username, secret, fingerprint: null, certificate: null, endsAt: null };
  return { ok: true, password, made };
}

/** What names a user in Mosquitto's files, too. */
const USER = /^[A-Za-z0-9][A-Za-z0-9._@-]{0,127}$/;

type ReadCertificate =
  ({ readonly ok: true } & Pick<NewCredential, 'username' | 'fingerprint' | 'certificate' | 'endsAt'>) | No;

function readCertificate(pem: string, now: Instant): ReadCertificate {
  const fault = (says: string) => no('bad-request', '/certificate', says);
  if (/PRIVATE KEY/.test(pem))
    return fault(
      'That holds a private key, which belongs in the gateway alone: make a new one, and paste the certificate.',
    );
  const certificate = parsed(pem);
  if (!certificate)
    return fault('That isn’t a certificate in PEM: it begins with -----BEGIN CERTIFICATE-----.');
  if (certificate.ca)
    return fault(
      'That is an authority’s certificate, which could issue others: give the gateway’s own (CA:FALSE).',
    );
  const username = /^CN=(.+)$/m.exec(certificate.subject)?.[1] ?? '';
  if (!USER.test(username))
    return fault(
      'Its subject needs a common name (CN) of letters, digits and . _ @ -, which brokers take for the user.',
    );
  const endsAt = instantFromMilliseconds(Date.parse(certificate.validTo));
  if (endsAt <= now) return fault(`It has expired, at ${formatInstant(endsAt)}: have a new one made.`);
  return {
    ok: true,
    username,
    fingerprint: Buffer.from(certificate.fingerprint256.replaceAll(':', ''), 'hex'),
    certificate: certificate.toString(),
    endsAt,
  };
}

function parsed(pem: string): X509Certificate | null {
  try {
    return new X509Certificate(pem);
  } catch {
    return null;
  }
}
