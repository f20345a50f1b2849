import type { App } from './app.ts';

/** How long requests under way may take to end. */
const PATIENCE_MS = 3_000;

/**
 * Takes no request any more and lets those under way end. A browser keeps a connection in store on which it has asked
 * nothing yet, and Node waits for that as for a request: it is cut, or an open page would hold the end up for a minute.
 */
export async function closeApp(app: App): Promise<void> {
  const impatient = setTimeout(() => app.server.closeAllConnections(), PATIENCE_MS);
  await app.close();
  clearTimeout(impatient);
}
