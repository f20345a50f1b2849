import type { IncomingHttpHeaders } from 'node:http';

/**
 * Was it this page that asked, or a page of another site in the same browser (CSRF)? A browser says so itself: in
 * `Sec-Fetch-Site` where it has it, else in `Origin`, which it sends with whatever may change something. `unsaid`: neither
 * was sent, so that it is no browser of the last ten years.
 */
export type Origin = 'own' | 'foreign' | 'unsaid';

export function originOf(headers: IncomingHttpHeaders): Origin {
  const { origin, host } = headers;
  if (origin !== undefined && hostOf(origin) !== host?.toLowerCase()) return 'foreign';
  const site = headers['sec-fetch-site'];
  if (site !== undefined) return site === 'same-origin' || site === 'none' ? 'own' : 'foreign';
  return origin === undefined ? 'unsaid' : 'own';
}

/** `null` (a sandboxed page, a file) is nobody's host. */
const hostOf = (origin: string): string | null => (URL.canParse(origin) ? new URL(origin).host : null);
