import type { App } from './app.ts';

/** How long requests under way may take to end. */
const PATIENCE_MS = 3_000;

/**
 * Ends what stands on the server's connections, one after the other, and the server; requests under way may come to their end, what
 * is left is cut. A browser keeps a connection in store on which it has asked nothing yet, and Node waits for that as for
 * a request: an open page would hold the end up for a minute.
 */
export async function closeApp(app: App, parts: readonly { stop(): Promise<void> }[]): Promise<void> {
  const cutting = setInterval(() => app.server.closeAllConnections(), PATIENCE_MS);
  try {
    for (const part of parts) await part.stop();
    await app.close();
  } finally {
    clearInterval(cutting);
  }
}
