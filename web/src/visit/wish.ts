import { parseInstant } from '../../../shared/base/instant.ts';
import type { Waiting } from '../page/waiting.ts';

/**
 * What somebody asked for at an alarm, under an id of its own: sent again after a break it is the same wish, and the server
 * answers what came of it the first time. While it waits it is never shown as done.
 */
export interface Wish extends Waiting {
  readonly alarm: string;
  readonly path: WishPath;
  readonly body: Readonly<Record<string, unknown>>;
}

const WISH_PATHS = ['accept', 'step', 'findings', 'note', 'close'] as const;
export type WishPath = (typeof WISH_PATHS)[number];
/** Those that take along when they were pressed. */
const DATED: ReadonlySet<WishPath> = new Set<WishPath>(['step', 'findings']);

/** What is sent of it. */
export const bodyOf = ({ command, path, body, saidAt }: Wish): Record<string, unknown> => ({
  ...body,
  command,
  ...(DATED.has(path) ? { saidAt } : {}),
});

const STEPS: Readonly<Record<string, string>> = {
  'still-on-it': 'Still on it',
  'on-my-way': 'On my way',
  'on-site': 'On site',
  left: 'Left',
};

export function wishText({ path, body }: Pick<Wish, 'path' | 'body'>): string {
  switch (path) {
    case 'accept':
      return 'Accept';
    case 'step':
      return STEPS[String(body['step'])] ?? 'Step';
    case 'findings':
      return 'Findings';
    case 'note':
      return `Note “${String(body['text'])}”`;
    case 'close':
      return 'Close';
  }
}

/** A wish as it was kept; what isn't one is left out. */
export function readWishes(text: string | null): Wish[] {
  if (text === null) return [];
  try {
    const found: unknown = JSON.parse(text);
    return Array.isArray(found) ? found.filter(isWish) : [];
  } catch {
    return [];
  }
}

function isWish(one: unknown): one is Wish {
  const wish = one as Partial<Record<keyof Wish, unknown>> | null;
  return (
    typeof wish === 'object' &&
    wish !== null &&
    typeof wish.command === 'string' &&
    typeof wish.person === 'string' &&
    typeof wish.alarm === 'string' &&
    typeof wish.body === 'object' &&
    typeof wish.saidAt === 'string' &&
    parseInstant(wish.saidAt) !== null &&
    (WISH_PATHS as readonly unknown[]).includes(wish.path)
  );
}
