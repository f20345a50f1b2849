import { setTimeout as delay } from 'node:timers/promises';
import { addCommand, readOutcome, type AskedCommand, type CommandOutcome } from '../../db/alarm-commands.ts';
import { lockAlarms, unlockAlarms } from '../../db/alarms.ts';
import type { Database, Session } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Setups } from '../follow/setup.ts';
import { decideSite } from './step.ts';

/**
 * What a person asks is stored and folded like everything else: its row and the decision that it leads to are one
 * transaction, and whoever asked is told what came of it. The same wish sent twice (a queue of a phone that was offline) is
 * answered with what came of it the first time.
 */
export interface AskMeans {
  readonly database: Database;
  readonly setups: Setups;
  readonly now: () => Instant;
}

const WAIT_MS = 10;
const WAIT_AT_MOST_MS = 5_000;

/** null: the site's alarms are being decided on for too long; ask again. */
export function askSite(means: AskMeans, site: string, asked: AskedCommand): Promise<CommandOutcome | null> {
  return means.database.session(async (session) => {
    if (!(await lockPatiently(session, site))) return null;
    try {
      return await session.transaction({ name: 'ask', isolation: 'repeatable read' }, async (queries) => {
        if (await addCommand(queries, site, asked))
          await decideSite(queries, site, { setups: means.setups, now: asked.at });
        return readOutcome(queries, asked.command.id);
      });
    } finally {
      await unlockAlarms(session, site);
    }
  });
}

async function lockPatiently(session: Session, site: string): Promise<boolean> {
  const end = performance.now() + WAIT_AT_MOST_MS;
  while (!(await lockAlarms(session, site))) {
    if (performance.now() > end) return false;
    await delay(WAIT_MS);
  }
  return true;
}
