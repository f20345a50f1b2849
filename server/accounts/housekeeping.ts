import { sweepLinks } from '../../db/account-links.ts';
import { sweepTokens } from '../../db/api-tokens.ts';
import { trimAudit } from '../../db/audit.ts';
import { sweepAttempts } from '../../db/failed-attempts.ts';
import { sweepCredentials } from '../../db/gateway-credentials.ts';
import { sweepSessions } from '../../db/sessions.ts';
import type { Accounts } from './accounts.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';

/** What has expired is taken out every hour; nothing leans on that, for whatever is read asks for its time as well. */
const EVERY_MS = 3_600_000;

async function sweep({ database, now }: Pick<Accounts, 'database' | 'now'>): Promise<void> {
  const at = now();
  const { sessionIdle, attemptWindow, auditKept, auditRows } = ACCOUNT_BOUNDS;
  await sweepSessions(database, { now: at, seenSince: at - sessionIdle });
  await sweepLinks(database, at);
  await sweepTokens(database, at);
  await sweepAttempts(database, at - attemptWindow);
  await sweepCredentials(database, at - auditKept);
  await trimAudit(database, at - auditKept, auditRows);
}

export function keepHouse(accounts: Accounts, failed: (error: unknown) => void): { stop(): Promise<void> } {
  let running: Promise<void> = sweep(accounts).catch(failed);
  const timer = setInterval(() => (running = running.then(() => sweep(accounts)).catch(failed)), EVERY_MS);
  timer.unref();
  return {
    stop() {
      clearInterval(timer);
      return running;
    },
  };
}
