import { open, stat } from 'node:fs/promises';
import type { Observe } from '../observation.ts';
import { BrokerLog } from './broker-log.ts';
import type { RefusalBook } from './refusal-book.ts';

/**
 * Follows the log file of an external broker, for whom it turns away, from where it ended when this was called (it comes back
 * when that is known). A file that is shorter than before, or another one, is read from its beginning (log rotation). One look reads 1 MiB at most; what came more is left out.
 */
const LOOK_MS = 1_000;
const MOST_BYTES = 1_048_576;

export interface FollowedLog {
  stop(): Promise<void>;
}

export async function followBrokerLog(
  file: string,
  book: RefusalBook,
  observe: Observe,
): Promise<FollowedLog> {
  const log = new BrokerLog();
  const begin = await stat(file).catch(() => ({ size: 0, ino: -1 }));
  let [place, inode, rest, hasFailed] = [begin.size, begin.ino, '', false];
  const look = async () => {
    const { size, ino } = await stat(file);
    if (ino !== inode || size < place) [place, rest] = [0, ''];
    inode = ino;
    if (size === place) return;
    const from = Math.max(place, size - MOST_BYTES);
    const text = rest + (await readPart(file, from, size));
    place = size;
    const lines = text.split('\n');
    rest = lines.pop()!.slice(-MOST_LINE);
    for (const line of lines) {
      const refusal = log.read(line.slice(0, MOST_LINE));
      if (refusal) book.note(refusal);
    }
  };
  let looking: Promise<void> = Promise.resolve();
  const timer = setInterval(() => {
    looking = looking.then(look).then(
      () => void (hasFailed = false),
      (error: Error) => {
        if (!hasFailed) observe({ kind: 'broker-log-unread', error }); // once, until it can be read again
        hasFailed = true;
      },
    );
  }, LOOK_MS);
  timer.unref();
  return {
    async stop() {
      clearInterval(timer);
      await looking;
    },
  };
}

const MOST_LINE = 10_000;

async function readPart(file: string, from: number, to: number): Promise<string> {
  const handle = await open(file, 'r');
  try {
    const { buffer, bytesRead } = await handle.read(Buffer.alloc(to - from), 0, to - from, from);
    return buffer.toString('utf8', 0, bytesRead);
  } finally {
    await handle.close();
  }
}
