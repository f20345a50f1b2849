import { fork, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';

/** A program of the bench in a process of its own, which speaks over its channel. It ends when we do. */
export function startProgram(
  file: string,
  argument: unknown = null,
  environment: NodeJS.ProcessEnv = {},
): ChildProcess {
  return fork(join(import.meta.dirname, file), [JSON.stringify(argument)], {
    execArgv: ['--import', 'tsx'],
    env: { ...process.env, ...environment },
    stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
  });
}

/** The next thing that it says. An end before that is an error. */
export async function heard<T>(child: ChildProcess): Promise<T> {
  const gone = new AbortController();
  child.once('exit', () =>
    gone.abort(new Error(`${child.spawnargs.at(-2)} ended before it had said anything`)),
  );
  const [said] = (await once(child, 'message', { signal: gone.signal })) as [T];
  return said;
}

export async function endProgram(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const ended = once(child, 'exit');
  child.kill('SIGTERM');
  await ended;
}
