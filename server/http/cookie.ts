import { inSeconds } from '../../shared/base/instant.ts';
import { hostName } from '../accounts/accounts.ts';
import { ACCOUNT_BOUNDS } from '../accounts/bounds.ts';
import { isLoopback } from '../loopback.ts';

/**
 * The cookie that holds a session's secret: unseen by scripts, never sent along with a request that another site began, and
 * off loopback only over HTTPS (its name begins with `__Host-`, so that no neighbouring host can set one: RFC 6265bis 4.1.3).
 */

const isLocal = (host: string | undefined): boolean => isLoopback(hostName(host ?? ''));

type CookieKind = 'session' | 'provider';
const nameOf = (kind: CookieKind, host: string | undefined): string =>
  isLocal(host) ? `holdoff-${kind}` : `__Host-holdoff-${kind}`;

/** The session's secret, as the request's cookies have it; null: none. */
export const sessionIn = (cookies: string | undefined, host: string | undefined): string | null =>
  cookieIn('session', cookies, host);

export function cookieIn(
  kind: CookieKind,
  cookies: string | undefined,
  host: string | undefined,
): string | null {
  const name = nameOf(kind, host);
  const found = (cookies ?? '')
    .split(';')
    .map((one) => one.trim())
    .find((one) => one.startsWith(`${name}=`));
  return found?.slice(name.length + 1) ?? null;
}

/** As a `Set-Cookie` header. null takes it away. */
export const sessionCookie = (secret: string | null, host: string | undefined): string =>
  cookieOf('session', secret, host, 'Strict', secret === null ? 0 : inSeconds(ACCOUNT_BOUNDS.sessionLongest));

/** What a browser keeps while it is at the provider: `Lax`, for it comes back from there. */
export const providerCookie = (kept: string | null, host: string | undefined, seconds: number): string =>
  cookieOf('provider', kept, host, 'Lax', seconds);

function cookieOf(
  kind: CookieKind,
  value: string | null,
  host: string | undefined,
  sameSite: 'Strict' | 'Lax',
  seconds: number,
): string {
  return [
    `${nameOf(kind, host)}=${value ?? ''}`,
    'Path=/',
    'HttpOnly',
    `SameSite=${sameSite}`,
    `Max-Age=${seconds}`,
    ...(isLocal(host) ? [] : ['Secure']),
  ].join('; ');
}
