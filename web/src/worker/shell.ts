/**
 * The page's own files, kept whole with each build. The page is asked of the network first, so that a new build is seen at
 * once; its files carry a digest in their names and never change.
 */
declare const __BUILD__: { readonly id: string; readonly files: readonly string[] };

const SHELL = 'holdoff-shell-';
const NOW = `${SHELL}${__BUILD__.id}`;
const PAGE = '/';
const PATIENCE_MS = 4_000;

export async function keepShell(): Promise<void> {
  const store = await caches.open(NOW);
  await store.addAll([PAGE, ...__BUILD__.files].map((path) => new Request(path, { cache: 'reload' })));
}

/** The one before stays: pages opened with it still ask for its files. */
export async function dropOldShells(): Promise<void> {
  const others = (await caches.keys()).filter((name) => name.startsWith(SHELL) && name !== NOW);
  await Promise.all(others.slice(0, -1).map((name) => caches.delete(name)));
}

export async function answerPlace(request: Request): Promise<Response> {
  const asked = fetch(request);
  const patience = new Promise<null>((done) => setTimeout(done, PATIENCE_MS, null));
  const inTime = await Promise.race([asked.catch(() => null), patience]);
  if (inTime !== null && inTime.status < 500) return inTime;
  const store = await caches.open(NOW);
  return (await store.match(PAGE)) ?? asked;
}

export const answerFile = async (request: Request): Promise<Response> =>
  (await caches.match(request)) ?? fetch(request);
