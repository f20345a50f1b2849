/** Where a message belongs by its topic (contract 1.1): `<root>/<site>/<device>` or `<root>/<site>/<device>/<signal>`. */
export interface Place {
  readonly site: string;
  readonly device: string;
  /** null: a device topic, whose payload names the signals */
  readonly signal: string | null;
}

const SLUG = /^[a-z0-9][a-z0-9-]{0,62}$/;

/** Null: not below the root, or not made of two or three slugs. The root may have levels of its own. */
export function parseTopic(root: string, topic: string): Place | null {
  if (!isBelow(root, topic)) return null;
  const words = topic.slice(root.length + 1).split('/');
  const [site, device, signal = null] = words;
  if (words.length > 3 || site === undefined || device === undefined) return null;
  return words.every((word) => SLUG.test(word)) ? { site, device, signal } : null;
}

/** Everything below the root is ours, understood or not. */
export const isBelow = (root: string, topic: string): boolean =>
  topic.startsWith(root) && topic[root.length] === '/';
