import { changedQuery, placeOf, type Place } from './place.ts';

/** Where the reader is: the browser's address as state. Links within the page change it without a load. */
class Address {
  #path = $state(location.pathname);
  #query = $state(location.search);
  readonly place: Place = $derived(placeOf(this.#path));
  readonly query: URLSearchParams = $derived(new URLSearchParams(this.#query));

  go(href: string, how: 'push' | 'replace' = 'push'): void {
    const to = new URL(href, location.href);
    history[how === 'push' ? 'pushState' : 'replaceState'](null, '', to);
    const elsewhere = to.pathname !== this.#path;
    this.read();
    if (elsewhere && how === 'push') scrollTo(0, 0);
  }

  /** Changes words of the query; typing and dragging replace, choices push. */
  set(changes: Readonly<Record<string, string | null>>, how: 'push' | 'replace' = 'replace'): void {
    const query = changedQuery(this.#query, changes);
    if (query !== this.#query) this.go(`${this.#path}${query}`, how);
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
