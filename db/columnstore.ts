import type { Instant } from '../shared/base/instant.ts';
import { arePartitioned } from './partitions.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * TimescaleDB's columnstore for old samples: each chunk by point, in order of time, at about a tenth of the room (`npm run bench -- disk`). What comes late
 * into such a chunk is merged as anywhere, lies beside the columns, and joins them at the next call.
 */
const IS_SET = statement(
  '',
  "select 1 from timescaledb_information.compression_settings where hypertable_name = 'samples' limit 1",
);
const SET = statement(
  '',
  `alter table samples set (
     timescaledb.compress, timescaledb.compress_segmentby = 'point_id', timescaledb.compress_orderby = 't')`,
);
/** Rows, or rows beside columns (bit 8 of the status that the catalogue keeps). */
const WAITING = statement(
  '',
  `select format('%I.%I', i.chunk_schema, i.chunk_name) as chunk
   from timescaledb_information.chunks i
   join _timescaledb_catalog.chunk c on c.schema_name = i.chunk_schema and c.table_name = i.chunk_name
   where i.hypertable_schema = 'public' and i.hypertable_name = 'samples' and i.range_end <= $1
     and (not i.is_compressed or c.status & 8 <> 0)
   order by i.range_start limit 1000`,
);
const TO_COLUMNS = statement('', 'select compress_chunk($1::regclass, if_not_compressed => true)');

/** Takes samples before `before` into columns, a chunk a transaction. Answers how many chunks; plain PostgreSQL has none. */
export async function keepInColumns(database: Database, before: Instant): Promise<number> {
  if (await isPlain(database)) return 0;
  if (!(await database.maybe(IS_SET))) await database.run(SET);
  const waiting = await database.many<{ chunk: string }>(WAITING, [timeParameter(before)]);
  for (const { chunk } of waiting)
    await database.transaction({ name: 'columnstore' }, (queries) => queries.many(TO_COLUMNS, [chunk]));
  return waiting.length;
}

const INSTALLED = statement('', "select 1 from pg_extension where extname = 'timescaledb'");

const isPlain = async (queries: Queries): Promise<boolean> =>
  (await arePartitioned(queries)) || !(await queries.maybe(INSTALLED));
