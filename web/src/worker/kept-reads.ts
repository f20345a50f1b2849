import { placeOf } from '../address/place.ts';

/** Which requests the service worker answers, and how. Everything else goes past it as if it weren't there. */
export type Way =
  /** the page itself: from the network, else the one kept with this build */
  | 'place'
  /** a file of the page */
  | 'file'
  /** an answer that may be read again while the server can't be reached */
  | 'read'
  /** somebody else may be signed in after it: whatever was kept is forgotten before and after */
  | 'changes-reader'
  | 'past';

export interface Asked {
  readonly method: string;
  /** is it of this page's own origin */
  readonly isOwn: boolean;
  readonly isNavigation: boolean;
  readonly path: string;
  readonly hasAuthorization: boolean;
}

/** What the pages of alarms read: `*` is one part of a path. Neither channels, tokens, sessions, people nor contacts. */
const READS = [
  '/api/account',
  '/api/alarms',
  '/api/alarms/*',
  '/api/alarms/*/*',
  '/api/tasks',
  '/api/events/*',
  '/api/sites',
  '/api/sites/*/status',
  '/api/sites/*/units/*',
  '/api/sites/*/proof',
  '/api/sites/*/proof/*',
].map((path) => new RegExp(`^${path.replaceAll('*', '[^/]+')}$`));

const CHANGES_READER = new Set([
  '/api/account/first-administrator',
  '/api/account/sign-in',
  '/api/account/sign-out',
  '/api/account/link/use',
  '/api/account/provider/start',
]);
const BACK_FROM_PROVIDER = '/api/account/provider/callback';

export function wayOf({ method, isOwn, isNavigation, path, hasAuthorization }: Asked): Way {
  if (!isOwn || hasAuthorization) return 'past';
  if (method === 'POST' && CHANGES_READER.has(path)) return 'changes-reader';
  if (method !== 'GET') return 'past';
  if (path === BACK_FROM_PROVIDER) return 'changes-reader';
  if (isNavigation) return placeOf(path).page === 'nowhere' ? 'past' : 'place';
  if (path.startsWith('/assets/')) return 'file';
  return READS.some((read) => read.test(path)) ? 'read' : 'past';
}
