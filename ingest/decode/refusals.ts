import { isArrayOf } from './json.ts';
import type { Rejected } from './decoded.ts';
import { KEPT_BYTES, keepsWhole, saysOf, type RejectReason } from './reject.ts';

/** One entry that can't be taken. */
export interface Refused {
  readonly reason: RejectReason;
  /** the point, or what of the message */
  readonly where: string;
  /** what was wrong, as it was sent */
  readonly what: unknown;
  /** what would say the same by itself; null: the whole message is meant */
  readonly fragment: (() => unknown) | null;
}

/** A message's refusals are told in at most so many groups; what is beyond them is counted in the last. */
const GROUPS = 50;
/** Entries of a group that are kept, of those which needn't be kept whole. */
const SHOWN = 50;

/** One record for each reason and point; the message itself is kept where nothing else of it was taken. */
export function rejectedOf(
  payload: Uint8Array,
  refused: readonly Refused[],
  othersTaken: boolean,
): Rejected[] {
  const groups = new Map<string, Refused[]>();
  for (const one of refused) {
    const key = groups.size < GROUPS ? `${one.reason} ${one.where}` : [...groups.keys()].at(-1)!;
    const group = groups.get(key);
    if (group) group.push(one);
    else groups.set(key, [one]);
  }
  const alone = groups.size === 1 && !othersTaken;
  return [...groups.values()].map((group) => rejectedGroup(payload, group, alone));
}

function rejectedGroup(payload: Uint8Array, group: readonly Refused[], alone: boolean): Rejected {
  const { reason, where, what } = group[0]!;
  const whole = alone ? payload : fragmentsOf(payload, group, keepsWhole(reason) ? Infinity : SHOWN);
  const more = group.length > 1 ? ` (and ${group.length - 1} more)` : '';
  return {
    reason,
    detail: `${where}: ${saysOf(reason)}${shown(what)}${more}`,
    entries: group.length,
    payload: keepsWhole(reason) ? whole : whole.subarray(0, KEPT_BYTES),
    payloadBytes: whole.length,
  };
}

function fragmentsOf(payload: Uint8Array, group: readonly Refused[], most: number): Uint8Array {
  const fragments = group.slice(0, most).map(({ fragment }) => fragment);
  if (!isArrayOf(fragments, (one): one is () => unknown => one !== null)) return payload;
  const text = textOf(fragments.length === 1 ? fragments[0]!() : fragments.map((fragment) => fragment()));
  return text === null ? payload : Buffer.from(text);
}

const MOST_SHOWN = 80;

function shown(what: unknown): string {
  if (what === undefined) return '';
  const text = textOf(what) ?? 'nested too deeply to show';
  // PostgreSQL's text can't hold U+0000
  const clean = text.replaceAll('\u0000', '\uFFFD').replaceAll('\\u0000', '\uFFFD');
  return `: ${clean.length > MOST_SHOWN ? `${clean.slice(0, MOST_SHOWN)}…` : clean}`;
}

/** Null: JSON.stringify recurses, and what was sent is nested more deeply than the stack reaches. */
function textOf(value: unknown): string | null {
  try {
    return JSON.stringify(value) ?? null;
  } catch {
    return null;
  }
}
