import { seconds } from '../../shared/base/instant.ts';

/** What accounts lean on, each figure with its source. Durations are µs, as instants are. */
const MINUTE = seconds(60);
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

export const ACCOUNT_BOUNDS = {
  /**
   * Argon2id (RFC 9106). OWASP Password Storage Cheat Sheet: at least 19 MiB, 2 passes, 1 lane. About 16 ms on one core
   * here. Each stored hash carries its own figures, so they may be raised.
   */
  argon2: { memoryKib: 19_456, passes: 2, lanes: 1 },
  /** so many are worked out at once, and so many wait; more are told to come again. Ours: memory and two cores */
  hashesAtOnce: 2,
  hashesWaiting: 40,

  /** unused for so long a session ends. Ours: a technician's phone over a long weekend; OWASP ASVS 5.0 7.1.1 wants it written down */
  sessionIdle: 4 * DAY,
  /** NIST SP 800-63B, AAL1: sign in again at least every 30 days, however much it is used */
  sessionLongest: 30 * DAY,
  /** how often a session's last use is written down, and a socket's credentials are looked at again */
  seenEvery: MINUTE,

  /** ours: time to read one's mail on Monday, and not longer than ASVS 5.0 6.4.1 "a short period" lets one argue */
  invitationLasts: 7 * DAY,
  resetLasts: 2 * HOUR,

  /** tokens of one person */
  tokens: 50,

  /**
   * Attempts in vain within the window: from one address on one account, on one account from anywhere, from one address
   * on anything. NIST SP 800-63B 5.2.2 allows at most 100 on one account; by the first bound a stranger shuts themselves
   * out long before they shut out the account's owner.
   */
  attemptWindow: 15 * MINUTE,
  attempts: { pair: 5, account: 50, address: 30 },

  /** ours: a year and a season */
  auditKept: 400 * DAY,
  auditRows: 2_000_000,
} as const;
