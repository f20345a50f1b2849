/** Where the built page is served; without TLS from another machine a browser has no service workers, and all else works. */
export function startWorker(): void {
  if (!import.meta.env.PROD || !('serviceWorker' in navigator)) return;
  // refused only by a browser's own settings, and the page needs none of it
  navigator.serviceWorker.register('/service-worker.js').catch(() => {});
}
