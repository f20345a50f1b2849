import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { dirname } from 'node:path';
import { NOTHING_WATCHED, type WatcherState } from '../../shared/alarms/watcher.ts';

/** What the watcher remembers lies in a file: the database may be what is away. A file that can't be read counts as none. */
export async function readKept(file: string): Promise<WatcherState> {
  try {
    const kept = JSON.parse(await readFile(file, 'utf8')) as Partial<WatcherState>;
    return kept.watching && kept.unsent ? { watching: kept.watching, unsent: kept.unsent } : NOTHING_WATCHED;
  } catch {
    return NOTHING_WATCHED;
  }
}

/** Whole or not at all: written beside it, then renamed. */
export async function keep(file: string, state: WatcherState): Promise<void> {
  await mkdir(dirname(file), { recursive: true });
  await writeFile(`${file}.new`, JSON.stringify(state), { mode: 0o600 });
  await rename(`${file}.new`, file);
}
