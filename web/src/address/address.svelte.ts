import { changedQuery, placeOf, type Place } from './place.ts';

const SETTLE_MS = 250;

/** Where the reader is: the browser's address as state. Links within the page change it without a load. */
class Address {
  #path = $state(location.pathname);
  #query = $state(location.search);
  readonly place: Place = $derived(placeOf(this.#path));
  readonly query: URLSearchParams = $derived(new URLSearchParams(this.#query));

  #settling: ReturnType<typeof setTimeout> | undefined;

  go(href: string): void {
    const to = new URL(href, location.href);
    clearTimeout(this.#settling);
    history.pushState(null, '', to);
    const elsewhere = to.pathname !== this.#path;
    this.read();
    if (elsewhere) scrollTo(0, 0);
  }

  /**
   * Changes words of the query; typing and dragging replace, choices push. What replaces is seen at once and written
   * into the browser's address when it has settled: browsers refuse to be told of every pixel of a drag.
   */
  set(changes: Readonly<Record<string, string | null>>, how: 'push' | 'replace' = 'replace'): void {
    const query = changedQuery(this.#query, changes);
    if (query === this.#query) return;
    const href = `${this.#path}${query}`;
    if (how === 'push') return this.go(href);
    this.#query = query;
    clearTimeout(this.#settling);
    this.#settling = setTimeout(() => history.replaceState(null, '', href), SETTLE_MS);
  }

  read(): void {
    this.#path = location.pathname;
    this.#query = location.search;
  }
}
export const address = new Address();

/** Follows the browser's own back and forward, and links to this page's places. */
export function followLinks(): () => void {
  const back = () => address.read();
  const click = (event: MouseEvent) => {
    const link = (event.target as Element | null)?.closest?.('a');
    const plain =
      !event.defaultPrevented && event.button === 0 && !(event.metaKey || event.ctrlKey || event.shiftKey);
    if (!link || !plain || link.target || link.origin !== location.origin || link.pathname.startsWith('/api'))
      return;
    if (link.hash && link.pathname === location.pathname) return;
    event.preventDefault();
    address.go(link.href);
  };
  addEventListener('popstate', back);
  document.addEventListener('click', click);
  return () => {
    removeEventListener('popstate', back);
    document.removeEventListener('click', click);
  };
}
