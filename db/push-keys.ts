import { statement, type Queries } from './pool.ts';

/** The private key, 32 octets, that shows push services who sends: whoever comes first to an empty table makes it. */
const KEEP = statement(
  'push-keys-keep',
  'insert into push_keys (private_key) values ($1) on conflict (only_row) do nothing',
);
const READ = statement('push-keys-read', 'select private_key as key from push_keys');

export async function readPushKey(queries: Queries, fresh: Buffer): Promise<Buffer> {
  await queries.run(KEEP, [fresh]);
  return (await queries.one<{ key: Buffer }>(READ)).key;
}
