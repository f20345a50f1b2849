import type { App } from './app.ts';

/** Which methods each address takes, so that a wrong method is told from a wrong address. */
export interface KnownRoutes {
  /** the methods that a path does take; empty: there is no such address */
  methodsAt(path: string): readonly string[];
}

/** To be called before the routes are made. */
export function noteRoutes(app: App): KnownRoutes {
  const routes: { readonly pattern: RegExp; readonly methods: readonly string[] }[] = [];
  app.addHook('onRoute', ({ url, method }) => {
    if (!url.startsWith('/api/')) return;
    const pattern = new RegExp(`^${url.replace(/:[^/]+/g, '[^/]+')}$`);
    routes.push({ pattern, methods: Array.isArray(method) ? method : [method] });
  });
  return {
    methodsAt: (path) => [
      ...new Set(routes.filter(({ pattern }) => pattern.test(path)).flatMap(({ methods }) => methods)),
    ],
  };
}
