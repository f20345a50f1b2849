import fastifyStatic from '@fastify/static';
import { existsSync } from 'node:fs';
import type { App } from './app.ts';
import type { KnownRoutes } from './known-routes.ts';
import { problemOf } from './refusal.ts';

/**
 * The built page. Files with a digest in their name are kept for a year; everything else is asked for again. A path that
 * is no file and no API is a place inside the page, which reads it itself.
 */
export async function pageRoutes(app: App, folder: string | null, routes: KnownRoutes): Promise<void> {
  const isBuilt = folder !== null && existsSync(folder);
  if (isBuilt) await app.register(fastifyStatic, staticOptions(folder));
  app.setNotFoundHandler((request, reply) => {
    const path = request.url.split('?')[0]!;
    if (isBuilt && isPlace(request.method, path)) return reply.sendFile('index.html');
    const methods = routes.methodsAt(path);
    if (methods.length > 0) reply.header('allow', methods.join(', '));
    const problem =
      methods.length > 0
        ? problemOf('not-allowed-here', `${path} takes ${methods.join(', ')}.`)
        : problemOf('not-found', `Nothing is served at ${request.method} ${path}.`);
    return reply.code(problem.status).type('application/problem+json').send(problem);
  });
}

const isPlace = (method: string, path: string): boolean =>
  method === 'GET' && !path.startsWith('/api/') && !/\.\w+$/.test(path);

const staticOptions = (root: string) => ({
  root,
  cacheControl: false,
  setHeaders: (reply: { setHeader(name: string, value: string): void }, path: string) => {
    const lasting = /[/\\]assets[/\\]/.test(path);
    reply.setHeader('cache-control', lasting ? 'public, max-age=31536000, immutable' : 'no-cache');
  },
});
