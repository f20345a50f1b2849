import type { MailOptions } from '../notify/mail.ts';
import type { PathSettings } from './paths.ts';

/** Where the watcher tells of what has failed here, and how often it says that all is well (contract section 7). */
export interface WatcherSettings extends PathSettings {
  readonly heartbeatSeconds: number;
}

type Environment = Readonly<Record<string, string | undefined>>;

/** A service that expects signs of life wants them dense; a mailbox, once a day [ours]. */
const BEAT_SECONDS = { webhook: 300, mail: 86_400 } as const;
const BEAT_BOUNDS = [10, 7 * 86_400] as const;

/** null: there is no second path, so nothing is watched. */
export function readWatcherSettings(
  environment: Environment,
  mail: MailOptions | null,
  faults: string[],
): WatcherSettings | null {
  const given = (name: string): string | null => environment[name]?.trim() || null;
  const url = given('WATCHER_URL');
  const to = given('WATCHER_MAIL');
  const secret = given('WATCHER_SECRET');
  if (url !== null && !/^https?:\/\/[^\s/]/.test(url))
    faults.push('WATCHER_URL isn’t an address of that kind: it begins with https:// or http://.');
  if (secret !== null && !/^(whsec_)?[A-Za-z0-9+/]{24,}={0,2}$/.test(secret))
    faults.push('WATCHER_SECRET must be at least 24 characters of base64, as whsec_MfKQ….');
  if (to !== null && !/^[^\s@<>]+@[^\s@<>]+$/.test(to))
    faults.push('WATCHER_MAIL isn’t an address of mail: give one as operations@example.org.');
  if (to !== null && mail === null)
    faults.push('WATCHER_MAIL needs SMTP_URL and MAIL_FROM, by which its mail goes.');
  const heartbeatSeconds = beatOf(given('HEARTBEAT_SECONDS'), url !== null, faults);
  if (url === null && to === null) return null;
  return {
    webhook: url === null ? null : { url, secret },
    mail: to === null || mail === null ? null : { to, by: mail },
    heartbeatSeconds,
  };
}

function beatOf(text: string | null, byWebhook: boolean, faults: string[]): number {
  if (text === null) return BEAT_SECONDS[byWebhook ? 'webhook' : 'mail'];
  const count = Number(text);
  const [least, most] = BEAT_BOUNDS;
  if (count === 0 || (Number.isInteger(count) && count >= least && count <= most)) return count;
  faults.push(`HEARTBEAT_SECONDS=${text}: give whole seconds from ${least} to ${most}, or 0 for none.`);
  return BEAT_SECONDS.webhook;
}
