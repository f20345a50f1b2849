import type { Instant } from '../../../shared/base/instant.ts';
import type { ReviewRow } from '../../../shared/wire/review-answer.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';

/** One axis for all sites of a power event: by the clock, or each site's last return of power at the same place. */
export type Alignment = 'clock' | 'return';

export interface Axis {
  /** seconds from the site's own zero to the left and right edge */
  readonly from: number;
  readonly to: number;
  readonly zeroOf: (row: ReviewRow) => Instant;
}

const secondsAfter = (text: string, zero: Instant): number => (readInstant(text) - zero) / 1e6;

export function axisOf(rows: readonly ReviewRow[], align: Alignment): Axis {
  const first = Math.min(...rows.map(({ start }) => readInstant(start.latest)));
  const zeroOf = (row: ReviewRow): Instant =>
    align === 'return' && row.returns.length > 0
      ? Math.max(...row.returns.map(readInstant))
      : align === 'return'
        ? readInstant(row.start.latest)
        : first;
  const places = rows.flatMap((row) => [
    secondsAfter(row.start.latest, zeroOf(row)),
    ...row.strip.flatMap(({ from, to }) => [secondsAfter(from, zeroOf(row)), secondsAfter(to, zeroOf(row))]),
    ...row.starts.map(({ t }) => secondsAfter(t, zeroOf(row))),
  ]);
  // aligned, the restarts are what is compared: of what came before the return a minute is enough
  const left = align === 'return' ? -60 : Math.min(0, ...places);
  const [from, to] = [left, Math.max(60, ...places)];
  const room = (to - from) * 0.02;
  return { from: from - room, to: to + room, zeroOf };
}

export const placeOn = (axis: Axis, row: ReviewRow, text: string): number =>
  (secondsAfter(text, axis.zeroOf(row)) - axis.from) / (axis.to - axis.from);
