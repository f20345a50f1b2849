/** Told whenever the server has refused this page as nobody's: a session has ended, a right was taken away. */
const watchers = new Set<() => void>();

export function whenShutOut(watcher: () => void): () => void {
  watchers.add(watcher);
  return () => watchers.delete(watcher);
}

export function sayShutOut(): void {
  for (const watcher of watchers) watcher();
}
