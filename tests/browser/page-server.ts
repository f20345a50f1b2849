import { preview } from 'vite';

/** The built page on a free port of loopback, without a server behind it: for pages drawn from invented answers. */
export async function servePage(): Promise<{ url: string; stop: () => Promise<void> }> {
  const server = await preview({
    root: new URL('../../web', import.meta.url).pathname,
    logLevel: 'error',
    preview: { host: '127.0.0.1', port: 0 },
  });
  const address = server.httpServer.address();
  if (address === null || typeof address === 'string') throw new Error('the page has no port');
  return { url: `http://127.0.0.1:${address.port}`, stop: () => server.close() };
}
