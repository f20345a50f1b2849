import { startIngest, type IngestOptions } from '../../ingest/start.ts';

/**
 * Ingest in a process of its own, as `npm run start:ingest` has it, with someone who counts: it says when so many samples
 * more are committed. Their acknowledgements are written in the same turn.
 */
export interface LineOrder {
  readonly databaseUrl: string;
  /** of an external broker; null: the embedded one */
  readonly mqttUrl: string | null;
  /** where the embedded broker keeps what it keeps */
  readonly folder: string;
}

export type LineSays =
  | { readonly kind: 'ready'; readonly port: number | null }
  /** `changed`: of the samples committed, those that were new rows */
  | { readonly kind: 'all'; readonly changed: number }
  /** processor time of this process so far */
  | { readonly kind: 'usage'; readonly microseconds: number };

const order = JSON.parse(process.argv[2]!) as LineOrder;
const tell = (says: LineSays) => process.send!(says);
let committed = 0;
let changed = 0;
let expected = Infinity;

const broker: IngestOptions['broker'] =
  order.mqttUrl === null
    ? { kind: 'embedded', host: '127.0.0.1', port: 0, folder: order.folder, mostClients: 100 }
    : {
        kind: 'external',
        url: order.mqttUrl,
        highWater: 10_000,
        highWaterBytes: 64 * 1024 * 1024,
        group: null,
      };

const ingest = await startIngest({
  databaseUrl: order.databaseUrl,
  broker,
  id: 'bench-ingest',
  root: 'holdoff',
  markSeconds: 2,
  waveformDays: 90,
  sparkplug: { hostId: 'holdoff', reorderSeconds: 2 },
  observe: (observation) => {
    if (observation.kind === 'caught-up') tell({ kind: 'ready', port: null });
    if (observation.kind !== 'committed') return;
    committed += observation.samples;
    changed += observation.changed;
    if (committed >= expected) tell({ kind: 'all', changed });
  },
});
if (ingest.port !== null) tell({ kind: 'ready', port: ingest.port });

process.on('message', (asked: number | 'usage') => {
  if (asked !== 'usage') return (expected = committed + asked);
  const { user, system } = process.cpuUsage();
  tell({ kind: 'usage', microseconds: user + system });
});
process.on('SIGTERM', () => void ingest.stop().then(() => process.exit(0)));
process.on('disconnect', () => process.exit(0));
