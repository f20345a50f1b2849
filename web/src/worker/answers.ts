import { ANSWERS_STORE, forgetAnswers, FROM_CACHE } from '../net/kept.ts';

/**
 * Answers kept on this device for when the server can't be reached, of whoever is signed in and of nobody else. Network
 * first: a kept one is given only where the network fails or a server behind a proxy is away, and says since when it is kept.
 */
const KEPT_AT = 'x-holdoff-kept-at';
/** as long as a session lasts unused: whoever would have to sign in again reads nothing here either */
const LONGEST_MS = 4 * 24 * 3600 * 1000;
const ANSWERS_BOUND = 300;
/** after so long without an answer one that is kept is better */
const PATIENCE_MS = 6_000;
const WHO = '/api/account';
/** what a proxy says for a server that is away, and the server itself while its database is */
const AWAY = new Set([502, 503, 504]);

/** Raised whenever everything is forgotten: an answer asked for before that isn't kept after it. */
let generation = 0;

async function forget(): Promise<void> {
  generation += 1;
  await forgetAnswers();
}

/** Whatever happens to the request: what was kept before it, or asked for beside it, isn't there after it. */
export async function changeReader(request: Request): Promise<Response> {
  await forget();
  try {
    return await fetch(request);
  } finally {
    await forget();
  }
}

export async function answerRead(request: Request): Promise<Response> {
  const asked = fromNetwork(request);
  const inTime = await Promise.race([asked.catch(() => null), patience()]);
  if (inTime !== null && !AWAY.has(inTime.status)) return inTime;
  return (await keptFor(request)) ?? asked;
}

const patience = (): Promise<null> => new Promise((done) => setTimeout(done, PATIENCE_MS, null));

async function fromNetwork(request: Request): Promise<Response> {
  const mine = generation;
  const response = await fetch(request);
  if (response.status === 401) await forget();
  else if (response.ok) await keep(request, response.clone(), mine).catch(forget);
  else if (!AWAY.has(response.status)) await drop(request);
  return response;
}

async function keep(request: Request, response: Response, asked: number): Promise<void> {
  const body = await response.arrayBuffer();
  if (asked !== generation) return;
  if (isWho(request) && (await isAnother(request, body))) await forget();
  const mine = generation;
  const headers = new Headers(response.headers);
  headers.set(KEPT_AT, new Date().toISOString());
  const store = await caches.open(ANSWERS_STORE);
  if (mine !== generation) return;
  await store.put(request, new Response(body, { status: response.status, headers }));
  // the oldest lie first
  const all = (await store.keys()).filter((one) => !isWho(one));
  for (const old of all.slice(0, Math.max(0, all.length - ANSWERS_BOUND))) await store.delete(old);
}

/** No longer for whoever asks: gone, or out of their scope. */
async function drop(request: Request): Promise<void> {
  await (await caches.open(ANSWERS_STORE)).delete(request);
}

const isWho = (request: Request): boolean => new URL(request.url).pathname === WHO;

/** Is it another person than the one whose answers are kept, or isn't it known whose they are. */
async function isAnother(request: Request, body: ArrayBuffer): Promise<boolean> {
  const before = await (await caches.open(ANSWERS_STORE)).match(request);
  const after = new TextDecoder().decode(body);
  return before === undefined || readerIn(await before.text()) !== readerIn(after);
}

/** Kind, id and rights together: with other rights other things may be read. */
function readerIn(text: string): string {
  const { actor } = JSON.parse(text) as { actor: Record<string, unknown> | null };
  return JSON.stringify([actor?.['kind'], actor?.['id'], actor?.['role'], actor?.['sites']]);
}

async function keptFor(request: Request): Promise<Response | null> {
  const store = await caches.open(ANSWERS_STORE);
  const kept = await store.match(request);
  const at = kept?.headers.get(KEPT_AT);
  if (!kept || !at || Date.now() - Date.parse(at) > LONGEST_MS) return null;
  const headers = new Headers(kept.headers);
  headers.delete(KEPT_AT);
  headers.set(FROM_CACHE, at);
  return new Response(kept.body, { status: kept.status, headers });
}
