import { existsSync, readFileSync } from 'node:fs';
import { LONGEST_LINK } from '../../shared/wire/short-notice.ts';
import { isLoopback } from '../loopback.ts';
import type { MailOptions } from './mail.ts';
import type { GatewayOptions } from './short-message.ts';

/** What notices are sent with: read from the environment once, said in full where it is wrong (contract section 7). */
export interface NotifySettings {
  /** where this server is reached from elsewhere, ending in a slash; null: only from this machine */
  readonly publicUrl: string | null;
  /** null: no e-mail is sent */
  readonly mail: MailOptions | null;
  /** null: no short messages are sent */
  readonly shortMessage: GatewayOptions | null;
  /** null: nobody is called */
  readonly voice: GatewayOptions | null;
  /** push services on this machine or in its network may be called, and over HTTP */
  readonly pushIsLocal: boolean;
}

export const NO_NOTICES: NotifySettings = {
  publicUrl: null,
  mail: null,
  shortMessage: null,
  voice: null,
  pushIsLocal: false,
};

/** what a link adds to the address: `a/`, its number, a hyphen, its signature */
const LINK_PLACES = 2 + 11 + 1 + 16;

type Environment = Readonly<Record<string, string | undefined>>;

export function readNotifySettings(environment: Environment, faults: string[]): NotifySettings {
  const given = (name: string): string | null => environment[name]?.trim() || null;
  const publicUrl = publicUrlOf(given('PUBLIC_URL'), faults);
  const mail = mailOf({ url: given('SMTP_URL'), from: given('MAIL_FROM'), caFile: given('SMTP_CA') }, faults);
  const shortMessage = gatewayOf(
    'SMS',
    { url: given('SMS_URL'), body: given('SMS_BODY'), authorization: given('SMS_AUTHORIZATION') },
    faults,
  );
  const voice = gatewayOf(
    'VOICE',
    { url: given('VOICE_URL'), body: given('VOICE_BODY'), authorization: given('VOICE_AUTHORIZATION') },
    faults,
  );
  const local = given('WEB_PUSH_LOCAL');
  if (local !== null && local !== '0' && local !== '1') faults.push(`WEB_PUSH_LOCAL=${local}: give 0 or 1.`);
  return { publicUrl, mail, shortMessage, voice, pushIsLocal: local === '1' };
}

function gatewayOf(
  name: 'SMS' | 'VOICE',
  { url, body, authorization }: { [name in keyof GatewayOptions]: string | null },
  faults: string[],
): GatewayOptions | null {
  if (url === null) return null;
  if (!/^https?:\/\//.test(url))
    faults.push(`${name}_URL isn’t an address of that kind: it begins with https:// or http://.`);
  else if (!`${url}${body ?? ''}`.includes('{text}'))
    faults.push(`Neither ${name}_URL nor ${name}_BODY has {text} in it: nothing would be said.`);
  return { url, body, authorization };
}

function publicUrlOf(text: string | null, faults: string[]): string | null {
  if (text === null) return null;
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !['https:', 'http:'].includes(url.protocol) || url.search !== '' || url.hash !== '') {
    faults.push('PUBLIC_URL isn’t the address of a page: give one as https://holdoff.example.org/.');
    return null;
  }
  if (url.protocol === 'http:' && !isLoopback(url.hostname))
    faults.push(
      'PUBLIC_URL begins with http://: whoever listens could accept alarms. Give one with https://.',
    );
  const whole = url.href.endsWith('/') ? url.href : `${url.href}/`;
  if (whole.length > LONGEST_LINK - LINK_PLACES)
    faults.push(
      `PUBLIC_URL has ${whole.length} characters: at most ${LONGEST_LINK - LINK_PLACES} leave room for a short message.`,
    );
  return whole;
}

function mailOf(
  { url, from, caFile }: { url: string | null; from: string | null; caFile: string | null },
  faults: string[],
): MailOptions | null {
  if (url === null) return null;
  const parsed = URL.canParse(url) ? new URL(url) : null;
  if (parsed === null || !['smtp:', 'smtps:'].includes(parsed.protocol) || parsed.hostname === '')
    faults.push('SMTP_URL isn’t an address of that kind: it begins with smtps:// or smtp://.');
  if (from === null || !/^[^\r\n]*[^\s@<]+@[^\s@>]+>?$/.test(from))
    faults.push('MAIL_FROM must say who sends, as Holdoff <holdoff@example.org>, where SMTP_URL is set.');
  if (caFile !== null && !existsSync(caFile)) faults.push(`SMTP_CA=${caFile}: there is no such file.`);
  if (faults.length > 0) return null;
  return { url, from: from!, ca: caFile === null ? null : readFileSync(caFile, 'utf8') };
}
