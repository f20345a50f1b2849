import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Recorders' files that were taken in, kept as they came. */
export interface RecordingRow extends RecordingFacts {
  readonly contents: readonly Buffer[];
}

export interface RecordingFacts {
  /** of site, panel and the files' bytes */
  readonly id: string;
  readonly site: string;
  readonly panel: string;
  readonly takenAt: Instant;
  readonly takenBy: string;
  readonly station: string;
  readonly device: string;
  readonly names: readonly string[];
  readonly from: Instant;
  readonly to: Instant;
  /** start and voltages as text: the same file in another reading is another wish */
  readonly readAs: string;
  readonly voltages: readonly {
    readonly signal: string;
    readonly channel: number;
    readonly minus: number | null;
    readonly scale: number;
  }[];
  readonly faults: readonly { readonly code: string; readonly says: string }[];
  readonly samples: number;
}

const INSERT = statement(
  'recordings-insert',
  `insert into recordings (id, site, panel, taken_at, taken_by, station, device, names, contents, starts_at, ends_at,
     read_as, voltages, faults, samples)
   values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15) on conflict (id) do nothing`,
);

export const insertRecording = (queries: Queries, row: RecordingRow): Promise<number> =>
  queries.run(INSERT, [
    row.id,
    row.site,
    row.panel,
    timeParameter(row.takenAt),
    row.takenBy,
    row.station,
    row.device,
    row.names,
    row.contents,
    timeParameter(row.from),
    timeParameter(row.to),
    row.readAs,
    JSON.stringify(row.voltages),
    JSON.stringify(row.faults),
    row.samples,
  ]);

const COLUMNS = `id, site, panel, taken_at as "takenAt", taken_by as "takenBy", station, device, names,
  starts_at as "from", ends_at as "to", read_as as "readAs", voltages, faults, samples`;

const BY_ID = statement('recordings-by-id', `select ${COLUMNS} from recordings where id = $1`);

export const readRecordingById = (queries: Queries, id: string): Promise<RecordingFacts | null> =>
  queries.maybe<RecordingFacts>(BY_ID, [id]);

const FILE = statement(
  'recordings-file',
  `select names[$4::int + 1] as name, contents[$4::int + 1] as content from recordings
   where id = $1 and site = $2 and panel = $3 and $4 < cardinality(contents)`,
);

/** One of a recording's files as it came, counted from 0; null: there is none. */
export const readRecordingFile = (
  queries: Queries,
  of: { readonly id: string; readonly site: string; readonly panel: string; readonly place: number },
): Promise<{ readonly name: string; readonly content: Buffer } | null> =>
  queries.maybe(FILE, [of.id, of.site, of.panel, of.place]);

const OF_PANEL = statement(
  'recordings-of-panel',
  `select ${COLUMNS} from recordings where site = $1 and panel = $2 order by starts_at desc, id limit $3`,
);

/** Newest first, without their bytes. */
export const readRecordings = (
  queries: Queries,
  site: string,
  panel: string,
  limit: number,
): Promise<RecordingFacts[]> => queries.many<RecordingFacts>(OF_PANEL, [site, panel, limit]);
