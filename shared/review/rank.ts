import { mostWithout } from './rooms.ts';
import { isAboveLimit, type SiteReview } from './site-review.ts';

/**
 * Worst first, by what asks most of people: what is still latched or off, rooms above their limit, starts together, the
 * longest time without cooling; then by name, so that the order is always the same.
 */
export const worstFirst = (a: SiteReview, b: SiteReview): number => {
  const [first, second] = [weights(a), weights(b)];
  const differs = first.findIndex((weight, i) => weight !== second[i]);
  return differs < 0 ? (a.share.site < b.share.site ? -1 : 1) : second[differs]! - first[differs]!;
};

const weights = ({ todo, rooms, verdict }: SiteReview): number[] => [
  todo.filter(({ kind }) => kind === 'latched' || kind === 'not-back').length,
  rooms.filter(isAboveLimit).length,
  verdict === 'simultaneous' ? 1 : 0,
  longestWithout({ rooms }),
  verdict === 'cannot-be-told' ? 1 : 0,
];

/** Seconds, the most that any room may have been without cooling. */
const longestWithout = ({ rooms }: Pick<SiteReview, 'rooms'>): number =>
  Math.max(0, ...rooms.map(mostWithout));
