import type { Grade, Measured } from './session.ts';

/** What a later record says otherwise than the one before: a yearly proof is read by its differences. */
export interface RecordedItem {
  readonly key: string;
  readonly device: string;
  readonly name: string;
  readonly grade: Grade;
  readonly measured: Measured | null;
}

export interface Difference {
  readonly key: string;
  readonly device: string;
  readonly name: string;
  /** null: it wasn’t there */
  readonly before: RecordedItem | null;
  /** null: it isn’t there any more */
  readonly after: RecordedItem | null;
}

export function recordDifferences(
  before: readonly RecordedItem[],
  after: readonly RecordedItem[],
): Difference[] {
  const old = new Map(before.map((item) => [item.key, item]));
  const keys = [...new Set([...after, ...before].map(({ key }) => key))];
  const now = new Map(after.map((item) => [item.key, item]));
  return keys.flatMap((key): Difference[] => {
    const [was, is] = [old.get(key) ?? null, now.get(key) ?? null];
    if (was && is && was.grade === is.grade && !hasMoved(was.measured, is.measured)) return [];
    const { device, name } = (is ?? was)!;
    return [{ key, device, name, before: was, after: is }];
  });
}

/** Two measures that can’t have been the same delay, or settings that differ. */
function hasMoved(was: Measured | null, is: Measured | null): boolean {
  if (was === null || is === null) return was !== is;
  const apart = was.seconds[1] < is.seconds[0] || is.seconds[1] < was.seconds[0];
  return apart || was.setting !== is.setting;
}
