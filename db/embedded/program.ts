import { spawn } from 'node:child_process';
import type { Account } from './account.ts';

/** How much of a program's words is kept for the error. */
const KEPT = 4_000;

/** Runs one of PostgreSQL's programs to its end, as the account; an error carries the last of what it said. */
export function runProgram(
  program: string,
  flags: readonly string[],
  account: Account | null,
  folder: string,
): Promise<void> {
  const as = account ? { uid: account.uid, gid: account.gid } : {};
  // detached: a Ctrl-C at the terminal is for us alone, half-started databases are ours to end in order
  const child = spawn(program, flags, {
    ...as,
    cwd: folder,
    stdio: ['ignore', 'pipe', 'pipe'],
    detached: true,
  });
  let said = '';
  const keep = (text: Buffer) => (said = `${said}${text.toString()}`.slice(-KEPT));
  child.stdout.on('data', keep);
  child.stderr.on('data', keep);
  return new Promise((done, failed) => {
    child.once('error', failed);
    child.once('exit', (code, signal) =>
      code === 0 ? done() : failed(new Error(`${program} ended with ${code ?? signal}: ${said.trim()}`)),
    );
  });
}
