import pino from 'pino';
import { startServer, type RunningServer } from '../../server/start-server.ts';
import type { Store } from './store.ts';

/** A server on the bench's database, for as long as the work takes. */
export async function serving(store: Store, work: (server: RunningServer) => Promise<void>): Promise<void> {
  const server = await startServer({
    databaseUrl: store.url,
    databaseKind: 'embedded',
    host: '127.0.0.1',
    port: 0,
    token: null,
    pageFolder: null,
    parts: () => [],
    logger: pino({ level: 'silent' }),
    version: 'bench',
  });
  try {
    await work(server);
  } finally {
    await server.stop();
  }
}

/** Asks as a page does; answers what came. */
export async function askServer(
  { port }: RunningServer,
  path: string,
  query: Readonly<Record<string, string>> = {},
): Promise<string> {
  const answer = await fetch(`http://127.0.0.1:${port}/api/${path}?${new URLSearchParams(query)}`);
  if (!answer.ok) throw new Error(`${path}: ${answer.status}: ${await answer.text()}`);
  return answer.text();
}

/** What it answers, and the seconds that it took. */
export async function timed<T>(work: () => Promise<T>): Promise<[T, number]> {
  const started = performance.now();
  const result = await work();
  return [result, (performance.now() - started) / 1000];
}
