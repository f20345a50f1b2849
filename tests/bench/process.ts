import { fork, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';

/** How long any of them may take to say something, or to end. */
const PATIENCE_MS = 60_000;

/** A program of the bench in a process of its own, which speaks over its channel. It ends when we do. */
export function startProgram(file: string, argument: unknown = null): ChildProcess {
  return fork(join(import.meta.dirname, file), [JSON.stringify(argument)], {
    execArgv: ['--import', 'tsx'],
    stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
  });
}

/** The next thing that it says. An end before that is an error, and so is a minute's silence. */
export async function heard<T>(child: ChildProcess): Promise<T> {
  const gone = new AbortController();
  const leave = () => gone.abort();
  child.once('exit', leave);
  const signal = AbortSignal.any([gone.signal, AbortSignal.timeout(PATIENCE_MS)]);
  try {
    const [said] = (await once(child, 'message', { signal })) as [T];
    return said;
  } catch (cause) {
    const how = gone.signal.aborted ? 'ended' : 'was silent';
    throw new Error(`${child.spawnargs.slice(-2).join(' ')} ${how} before it had said anything`, { cause });
  } finally {
    child.off('exit', leave);
  }
}

export async function endProgram(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return;
  const ended = once(child, 'exit', { signal: AbortSignal.timeout(PATIENCE_MS) });
  child.kill('SIGTERM');
  await ended.catch((cause: unknown) => {
    child.kill('SIGKILL');
    throw new Error(`${child.spawnargs.at(-2)} didn't end`, { cause });
  });
}
