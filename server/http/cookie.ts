import { inSeconds } from '../../shared/base/instant.ts';
import { hostName } from '../accounts/accounts.ts';
import { ACCOUNT_BOUNDS } from '../accounts/bounds.ts';
import { isLoopback } from '../loopback.ts';

/**
 * The cookie that holds a session's secret: unseen by scripts, never sent along with a request that another site began, and
 * off loopback only over HTTPS (its name begins with `__Host-`, so that no neighbouring host can set one: RFC 6265bis 4.1.3).
 */
const LOCAL_NAME = 'holdoff-session';
const NAME = `__Host-${LOCAL_NAME}`;

const isLocal = (host: string | undefined): boolean => isLoopback(hostName(host ?? ''));

/** The session's secret, as the request's cookies have it; null: none. */
export function sessionIn(cookies: string | undefined, host: string | undefined): string | null {
  const name = isLocal(host) ? LOCAL_NAME : NAME;
  const found = (cookies ?? '')
    .split(';')
    .map((one) => one.trim())
    .find((one) => one.startsWith(`${name}=`));
  return found?.slice(name.length + 1) ?? null;
}

/** As a `Set-Cookie` header. null takes it away. */
export function sessionCookie(secret: string | null, host: string | undefined): string {
  const local = isLocal(host);
  const lasts = secret === null ? 0 : inSeconds(ACCOUNT_BOUNDS.sessionLongest);
  return [
    `${local ? LOCAL_NAME : NAME}=${secret ?? ''}`,
    'Path=/',
    'HttpOnly',
    'SameSite=Strict',
    `Max-Age=${lasts}`,
    ...(local ? [] : ['Secure']),
  ].join('; ');
}
