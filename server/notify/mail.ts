import nodemailer from 'nodemailer';
import { rootCertificates } from 'node:tls';
import { isLoopback } from '../loopback.ts';
import { errorLine, type Channel, type Sent } from './channel.ts';

/**
 * E-mail over SMTP. `smtps://` speaks TLS from the start; `smtp://` must be raised to TLS before anything is said, unless
 * the server is on this machine. A message has an id that stays the same however often it is tried (RFC 5322 section
 * 3.6.4), refers to its notice so that they stand together, and says that a machine wrote it (RFC 3834).
 */
export interface MailOptions {
  /** smtp(s)://user:password@host:port */
  readonly url: string;
  /** an address, or `Name <address>` */
  readonly from: string;
  /** certificates to trust beside the usual ones, PEM; null: none */
  readonly ca: string | null;
}

const CONNECT_MS = 10_000;
const SILENCE_MS = 20_000;
const CONNECTIONS = 3;

export function makeMail({ url, from, ca }: MailOptions): Channel {
  const { protocol, hostname, port, username, password } = new URL(url);
  const secure = protocol === 'smtps:';
  const transport = nodemailer.createTransport({
    host: hostname.replace(/^\[|\]$/g, ''),
    port: port === '' ? (secure ? 465 : 587) : Number(port),
    secure,
    ...(username === ''
      ? {}
      : { auth: { user: decodeURIComponent(username), pass: decodeURIComponent(password) } }),
    pool: true,
    maxConnections: CONNECTIONS,
    requireTLS: !secure && !isLoopback(hostname),
    connectionTimeout: CONNECT_MS,
    greetingTimeout: CONNECT_MS,
    socketTimeout: SILENCE_MS,
    ...(ca === null ? {} : { tls: { ca: [ca, ...rootCertificates] } }),
    disableFileAccess: true,
    disableUrlAccess: true,
  });
  const domain = domainOf(from);
  return {
    async send({ to, delivery }) {
      const { subject, text, attachments = [] } = delivery.body;
      const thread = delivery.notice === null ? null : `<notice-${delivery.notice}@${domain}>`;
      try {
        const { response } = await transport.sendMail({
          from,
          to: { name: '', address: to.address },
          subject,
          text,
          attachments: attachments.map(({ name, type, base64 }) => ({
            filename: name,
            contentType: type,
            content: Buffer.from(base64, 'base64'),
          })),
          messageId: `<${delivery.messageId}@${domain}>`,
          date: new Date(delivery.madeAt / 1000),
          ...(thread === null ? {} : { inReplyTo: thread, references: [thread] }),
          headers: { 'Auto-Submitted': 'auto-generated' },
        });
        return { kind: 'accepted', answer: response };
      } catch (error) {
        return refused(error);
      }
    },
    close: () => {
      transport.close();
      return Promise.resolve();
    },
  };
}

/** what may be set right here while the message waits: our sign-in, that the server speaks no TLS */
const OURS = new Set(['EAUTH', 'ETLS']);

/** A reply of 5xx is final (RFC 5321 section 4.2.1), but for what may be wrong with our own sign-in. */
function refused(error: unknown): Sent {
  const { responseCode, code } = error as { responseCode?: number; code?: string };
  const isFinal = responseCode !== undefined && responseCode >= 500 && !OURS.has(code ?? '');
  return { kind: isFinal ? 'never' : 'later', answer: saidOf(error, code) };
}

/** What went wrong, with what to do where the connection itself isn't trusted. */
function saidOf(error: unknown, code: string | undefined): string {
  const line = errorLine(error);
  if (/certificate|altnames/i.test(line))
    return `The mail server’s certificate isn’t trusted (${line}): name it as its certificate does, or give its authority’s in SMTP_CA.`;
  if (code === 'ETLS') return `The mail server doesn’t speak TLS, and nothing is sent without it: ${line}`;
  return line;
}

const domainOf = (from: string): string => /@([^\s>]+)/.exec(from)?.[1] ?? 'localhost';
