/// <reference lib="webworker" />
import { answerRead, changeReader } from './answers.ts';
import { wayOf } from './kept-reads.ts';
import { open, show } from './notifications.ts';
import { answerFile, answerPlace, dropOldShells, keepShell } from './shell.ts';

/** The page's service worker: makes it installable, readable while the server can't be reached, and shows what is pushed. */
const worker = globalThis as unknown as ServiceWorkerGlobalScope;

worker.addEventListener('install', (event) => {
  event.waitUntil(keepShell().then(() => worker.skipWaiting()));
});

worker.addEventListener('activate', (event) => {
  event.waitUntil(dropOldShells().then(() => worker.clients.claim()));
});

worker.addEventListener('fetch', (event) => {
  const { request } = event;
  const { origin, pathname: path } = new URL(request.url);
  const way = wayOf({
    method: request.method,
    isOwn: origin === worker.location.origin,
    isNavigation: request.mode === 'navigate',
    path,
    hasAuthorization: request.headers.has('authorization'),
  });
  if (way === 'place') event.respondWith(answerPlace(request));
  if (way === 'file') event.respondWith(answerFile(request));
  if (way === 'read') event.respondWith(answerRead(request));
  if (way === 'changes-reader') event.respondWith(changeReader(request));
});

worker.addEventListener('push', (event) => {
  event.waitUntil(show(worker.registration, event.data));
});

worker.addEventListener('notificationclick', (event) => {
  event.waitUntil(open(worker.clients, event.notification));
});
