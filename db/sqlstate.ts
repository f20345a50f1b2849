/**
 * What a failed statement means for the one who sent it: try again, or give up. PostgreSQL's five-character SQLSTATE
 * decides (PostgreSQL documentation, appendix A), never the wording. Everything not listed is a fault of ours or a
 * refusal of the data: trying again would only hide it.
 */
export type RetryReason = 'conflict' | 'connection' | 'busy' | 'starting' | 'storage';

/** By SQLSTATE; two characters stand for their whole class. */
const RETRIED: Readonly<Record<string, RetryReason>> = {
  '40001': 'conflict', // serialization_failure
  '40P01': 'conflict', // deadlock_detected
  '55P03': 'conflict', // lock_not_available
  '23503': 'conflict', // foreign_key_violation: a site was deleted meanwhile; the next try reads what is there now
  '08': 'connection',
  '57P01': 'connection', // admin_shutdown
  '57P02': 'connection', // crash_shutdown
  '57P03': 'starting', // cannot_connect_now
  '53300': 'busy', // too_many_connections
  '53': 'storage', // disk_full, out_of_memory: nothing is wrong with what was sent
  '58': 'storage', // io_error and the like
  '57014': 'busy', // query_canceled: our own statement timeout
};

/** Errors of the socket below, before PostgreSQL has had a word. */
const SOCKET = new Set(['ECONNREFUSED', 'ECONNRESET', 'EPIPE', 'ENOENT', 'ETIMEDOUT', 'EAI_AGAIN']);

/** pg reports a lost connection as a plain Error with no code. */
const LOST =
  /^(Connection terminated|timeout exceeded when trying to connect|Client has encountered a connection error)/;

/** Why trying again may help; null: it can't. */
export function retryReason(error: unknown): RetryReason | null {
  if (!(error instanceof Error)) return null;
  const code = (error as { code?: unknown }).code;
  if (typeof code !== 'string') return LOST.test(error.message) ? 'connection' : null;
  if (SOCKET.has(code)) return 'connection';
  return RETRIED[code] ?? RETRIED[code.slice(0, 2)] ?? null;
}

/** How long until the next attempt, in ms: doubling from 10 ms, at most 2 s, half of it random, so that those who
 * failed together don't come back together. `dice` is in [0, 1). */
export function retryDelay(attempt: number, dice: number): number {
  const whole = Math.min(2_000, 10 * 2 ** attempt);
  return whole / 2 + (whole / 2) * dice;
}
