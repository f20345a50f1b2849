import { createHash } from 'node:crypto';
import { isIP } from 'node:net';
import { countAttempts, forgiveAttempts, type Attempts } from '../../db/failed-attempts.ts';
import type { Queries } from '../../db/pool.ts';
import { inSeconds, type Instant } from '../../shared/base/instant.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';

/** Attempts at something that only its owner knows: counted before they are looked at, bounded by whom and from where. */
export interface Attempt {
  readonly keys: readonly Buffer[];
  /** null: go on; else one has to wait so many seconds */
  readonly waitSeconds: number | null;
}

interface Counted {
  readonly key: Buffer;
  readonly most: number;
}

/** `account`: whose secret is tried; null where it names nobody (a link, a token). */
export async function beginAttempt(
  queries: Queries,
  asked: { readonly account: string | null; readonly address: string; readonly now: Instant },
): Promise<Attempt> {
  const { attemptWindow } = ACCOUNT_BOUNDS;
  const counted = countedFor(asked.account, blockOf(asked.address));
  const rows = await countAttempts(
    queries,
    counted.map(({ key }) => key),
    { now: asked.now, since: asked.now - attemptWindow },
  );
  const past = rows.filter((row) => row.count > boundOf(counted, row));
  const until = past.reduce((latest, { since }) => Math.max(latest, since + attemptWindow), -Infinity);
  return {
    keys: counted.map(({ key }) => key),
    waitSeconds: past.length === 0 ? null : Math.max(1, Math.ceil(inSeconds(until - asked.now))),
  };
}

/** It was right, or couldn't be looked at: it isn't one in vain. */
export const forgiveAttempt = (queries: Queries, { keys }: Attempt): Promise<number> =>
  forgiveAttempts(queries, keys);

function countedFor(account: string | null, block: string): Counted[] {
  const { pair, account: onAccount, address } = ACCOUNT_BOUNDS.attempts;
  const fromThere = { key: keyOf('address', block), most: address };
  if (account === null) return [fromThere];
  return [
    fromThere,
    { key: keyOf('account', account), most: onAccount },
    { key: keyOf('pair', account, block), most: pair },
  ];
}

const boundOf = (counted: readonly Counted[], row: Attempts): number =>
  counted.find(({ key }) => key.equals(row.key))!.most;

const keyOf = (...words: string[]): Buffer => createHash('sha256').update(JSON.stringify(words)).digest();

/** One who has an IPv6 network has 2^64 addresses: they count as one. */
function blockOf(address: string): string {
  const plain = address.replace(/^::ffff:/, '').replace(/%.*$/, '');
  if (isIP(plain) !== 6) return plain;
  const [head, tail] = plain.split('::') as [string, string | undefined];
  const parts = head.split(':').filter(Boolean);
  const rest = (tail ?? '').split(':').filter(Boolean);
  const zeros = tail === undefined ? [] : Array<string>(8 - parts.length - rest.length).fill('0');
  return [...parts, ...zeros, ...rest].slice(0, 4).join(':');
}
