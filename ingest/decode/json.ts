import { isUtf8 } from 'node:buffer';
import type { RejectReason } from './reject.ts';

export type Parsed =
  { readonly ok: true; readonly body: unknown } | { readonly ok: false; readonly reason: RejectReason };

/** The largest payload that is taken, in bytes. */
const LARGEST_PAYLOAD = 1_000_000;

/** The most entries that one message may hold: what one transaction bears within its time. */
export const MOST_ENTRIES = 100_000;

/** UTF-8 JSON, or why it isn't. */
export function parsePayload(payload: Uint8Array): Parsed {
  if (payload.length === 0) return { ok: false, reason: 'payload-empty' };
  if (payload.length >= LARGEST_PAYLOAD) return { ok: false, reason: 'payload-too-large' };
  if (!isUtf8(payload)) return { ok: false, reason: 'payload-not-utf8' };
  const { buffer, byteOffset, length } = payload;
  try {
    return { ok: true, body: JSON.parse(Buffer.from(buffer, byteOffset, length).toString('utf8')) };
  } catch {
    return { ok: false, reason: 'payload-not-json' };
  }
}

export type Fields = Readonly<Record<string, unknown>>;

export const isObject = (value: unknown): value is Fields =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

export const isArrayOf = <T>(values: readonly unknown[], is: (value: unknown) => value is T): values is T[] =>
  values.every(is);
