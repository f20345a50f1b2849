import type { Logger } from 'pino';
import { hostname } from 'node:os';
import { join } from 'node:path';
import type { Setups } from '../follow/setup.ts';
import type { Notices, Service } from '../service.ts';
import { makeLooker } from './look.ts';
import type { WatcherSettings } from './settings.ts';
import { startWatcher, type Watcher, type WatcherObservation } from './watcher.ts';

/** Composes the watcher of a running server. */
export function startWatching(
  { settings, folder }: { readonly settings: WatcherSettings; readonly folder: string },
  means: {
    readonly databaseUrl: string;
    readonly setups: Setups;
    readonly parts: Service['parts'];
    readonly now: () => number;
    readonly logger: Logger;
  },
  { publicUrl }: Pick<Notices, 'publicUrl'>,
): Watcher {
  return startWatcher({
    ...settings,
    server: publicUrl === null ? hostname() : new URL(publicUrl).host,
    file: join(folder, 'watcher.json'),
    looker: makeLooker(means),
    now: means.now,
    observe: (observation) => log(means.logger, observation),
  });
}

function log(logger: Logger, observation: WatcherObservation): void {
  switch (observation.kind) {
    case 'told': {
      const { message, path, answer } = observation;
      logger.warn({ ...message, path, answer }, `the watcher has told: ${message.watched}, ${message.what}`);
      return;
    }
    case 'not-told':
      logger.error(observation, 'what the watcher had to tell wasn’t taken; it is tried again');
      return;
    case 'watch-failed':
      logger.error({ err: observation.error }, 'the watcher’s look failed; another follows');
  }
}
