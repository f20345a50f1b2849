/**
 * What the service worker keeps of answers on this device, and how it says so: shared by the worker, which keeps and gives
 * them, and by the page, which says how old they are and forgets them when somebody signs out.
 */
export const ANSWERS_STORE = 'holdoff-answers';

/** On an answer that comes from this device because the server couldn't be reached: when the server gave it (ISO 8601, UTC). */
export const FROM_CACHE = 'x-holdoff-from-cache';

/** Nothing of what whoever read this page was told stays on this device. */
export async function forgetAnswers(): Promise<void> {
  // a browser has no stores where the page came without TLS from another machine
  if ('caches' in globalThis) await caches.delete(ANSWERS_STORE);
}
