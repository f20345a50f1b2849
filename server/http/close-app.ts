import type { App } from './app.ts';

/** How long requests under way may take to end. */
const PATIENCE_MS = 3_000;

/**
 * While the socket and the routes of a server end: requests under way may come to their end, what is left is cut. A browser keeps
 * a connection in store on which it has asked nothing yet, and Node waits for that as for a request: an open page would hold
 * the end up for a minute.
 */
export async function cuttingWhatIsLeft(app: App, close: () => Promise<void>): Promise<void> {
  const cutting = setInterval(() => app.server.closeAllConnections(), PATIENCE_MS);
  try {
    await close();
  } finally {
    clearInterval(cutting);
  }
}
