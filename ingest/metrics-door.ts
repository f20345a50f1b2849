import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';

/** Where the counters of an ingest by itself are read: `GET /metrics`, and nothing else. They hold no telemetry. */
export interface MetricsDoor {
  readonly port: number;
  close(): Promise<void>;
}

/** What answers: a registry of counters. */
interface Counters {
  readonly contentType: string;
  metrics(): Promise<string>;
}

export async function openMetricsDoor(
  registry: Counters,
  { host, port }: { readonly host: string; readonly port: number },
): Promise<MetricsDoor> {
  const server = createServer((request, response) => {
    const isAsked = request.method === 'GET' && request.url?.split('?')[0] === '/metrics';
    if (!isAsked) return void response.writeHead(404).end();
    registry.metrics().then(
      (text) => response.writeHead(200, { 'content-type': registry.contentType }).end(text),
      () => response.writeHead(500).end(),
    );
  });
  server.requestTimeout = 10_000;
  server.listen(port, host);
  await once(server, 'listening');
  return {
    port: (server.address() as AddressInfo).port,
    close: async () => {
      const closed = once(server, 'close');
      server.close();
      server.closeAllConnections();
      await closed;
    },
  };
}
