import { execFile } from 'node:child_process';
import { dirname, resolve } from 'node:path';
import { userInfo } from 'node:os';
import { promisify } from 'node:util';

/**
 * PostgreSQL refuses to run as root. Started by root, the embedded one runs as the operating-system user `postgres`,
 * which is made where there is none; started by anyone else it runs as they do.
 */
export interface Account {
  readonly name: string;
  readonly uid: number;
  readonly gid: number;
}

const run = promisify(execFile);
const NAME = 'postgres';

/** The account to switch to; null: none, we are an ordinary user. */
export async function accountToRunAs(): Promise<Account | null> {
  if (process.getuid?.() !== 0) return null;
  return (await lookUp()) ?? (await create());
}

async function lookUp(): Promise<Account | null> {
  try {
    const [uid, gid] = await Promise.all([run('id', ['-u', NAME]), run('id', ['-g', NAME])]);
    return { name: NAME, uid: Number(uid.stdout), gid: Number(gid.stdout) };
  } catch {
    return null; // `id` answers so for a user that doesn't exist
  }
}

async function create(): Promise<Account> {
  try {
    await run('useradd', [
      '--system',
      '--user-group',
      '--no-create-home',
      '--shell',
      '/usr/sbin/nologin',
      NAME,
    ]);
  } catch (cause) {
    throw new EmbeddedError(
      'PostgreSQL doesn’t run as root, and the user “postgres” could not be made. Start as an ordinary user, ' +
        'or make that user, or set DATABASE_URL.',
      cause,
    );
  }
  const made = await lookUp();
  if (!made) throw new EmbeddedError('The user “postgres” was made but can’t be found.');
  return made;
}

/** What keeps the embedded PostgreSQL from starting, in words for the person who started it. */
export class EmbeddedError extends Error {
  constructor(message: string, cause?: unknown) {
    super(message, { cause });
    this.name = 'EmbeddedError';
  }
}

/** May the account enter the folder (or run the program) at this path? Asked of the system, as that account. */
export async function mayReach(path: string, account: Account | null): Promise<boolean> {
  const as = account ? { uid: account.uid, gid: account.gid } : {};
  return run('/bin/sh', ['-c', 'test -x "$1"', 'sh', path], { ...as, cwd: '/' }).then(
    () => true,
    () => false,
  );
}

/** Refuses a folder that lies below one which the account may not enter, and names that one. */
export async function refuseUnreachable(folder: string, account: Account | null): Promise<void> {
  for (const above of ancestors(resolve(folder))) {
    if (await mayReach(above, account)) continue;
    const who = account?.name ?? userInfo().username;
    throw new EmbeddedError(
      `The embedded PostgreSQL runs as the user “${who}”, who may not enter ${above}. ` +
        'Set DATA_DIR to a folder that this user may enter, such as /var/lib/holdoff, or start as an ordinary user.',
    );
  }
}

/** From the root down, the folder itself left out. */
function ancestors(folder: string): string[] {
  const above = dirname(folder);
  return above === folder ? [] : [...ancestors(above), above];
}
