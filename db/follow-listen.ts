import pg from 'pg';
import { setTimeout as delay } from 'node:timers/promises';
import { retryDelay } from './sqlstate.ts';

/**
 * Hears the payload-free notices that committed changes give (`pg_notify`). They only hurry things: whoever listens also
 * polls, so a lost connection loses nothing; it is opened again, and `heard` is called once for what was missed.
 */
export interface Listener {
  close(): Promise<void>;
}

/** samples, life or configuration were committed */
export const COMMITTED = 'holdoff_committed';
/** a step of inference was saved */
export const INFERRED = 'holdoff_inferred';

export function listen(url: string, channels: readonly string[], heard: (channel: string) => void): Listener {
  let closed = false;
  let client: pg.Client | null = null;

  async function once(): Promise<void> {
    const mine = new pg.Client({
      connectionString: url,
      application_name: 'holdoff-listen',
      connectionTimeoutMillis: 10_000,
      keepAlive: true,
    });
    const lost = new Promise<void>((resolve) => {
      mine.on('error', () => resolve());
      mine.on('end', () => resolve());
    });
    client = mine;
    mine.on('notification', ({ channel }) => heard(channel));
    await Promise.race([mine.connect(), lost]); // ended while it connects, it never says so
    for (const channel of channels) await mine.query(`listen ${mine.escapeIdentifier(channel)}`);
    for (const channel of channels) heard(channel);
    await lost;
  }

  const loop = (async () => {
    for (let tried = 0; !closed; tried++) {
      const lived = await once().then(
        () => true,
        () => false,
      );
      if (lived) tried = 0;
      if (!closed) await delay(retryDelay(tried, Math.random()));
    }
  })();

  return {
    async close() {
      closed = true;
      await client?.end().catch(() => {});
      await loop;
    },
  };
}
