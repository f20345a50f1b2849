import { readFile, readlink, realpath, rm } from 'node:fs/promises';
import { join } from 'node:path';

/**
 * What `postmaster.pid` in a data folder says. After a hard kill of our process the postmaster goes on running, and a
 * later start must find it: PostgreSQL would refuse a second one on the same folder.
 *
 * The file's lines: process id, data folder, start time, port, socket folder, listen address, shared memory, status.
 */
export interface Postmaster {
  readonly pid: number;
  readonly port: number;
}

/** The postmaster that runs on this folder, if one does. A file left by one that is gone is taken away. */
export async function findPostmaster(folder: string): Promise<Postmaster | null> {
  const file = join(folder, 'postmaster.pid');
  const lines = (await readFile(file, 'utf8').catch(() => '')).split('\n');
  const pid = Number(lines[0]);
  if (!Number.isInteger(pid) || pid <= 0) return null;
  if (await worksIn(pid, folder)) return { pid, port: Number(lines[3] ?? 0) };
  await rm(file, { force: true });
  return null;
}

/**
 * A process id may have passed to someone else since. A postmaster's working folder is its data folder; where the
 * system doesn't tell (no /proc), being alive has to do, and PostgreSQL itself refuses what is wrong.
 */
async function worksIn(pid: number, folder: string): Promise<boolean> {
  if (!isAlive(pid) || (await isZombie(pid))) return false;
  const [working, own] = await Promise.all([
    readlink(`/proc/${pid}/cwd`).catch(() => null),
    realpath(folder).catch(() => folder),
  ]);
  return working === null ? true : working === own;
}

/** Dead, and its parent (in a container, nobody) hasn't taken notice. */
async function isZombie(pid: number): Promise<boolean> {
  const stat = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => '');
  return stat.includes(') Z ');
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
