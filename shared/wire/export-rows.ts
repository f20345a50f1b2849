import { formatInstant, type Instant } from '../base/instant.ts';
import { isConflict, qualityLevel, qualityWord, type QualityWord } from '../telemetry/sample.ts';
import { csvLines, csvOf, type Cell } from './csv.ts';
import type { EventAnswer } from './event-answer.ts';

/**
 * The files that telemetry and conclusions leave in, and come back from: CSV (RFC 4180), or NDJSON, one JSON document a
 * line. In NDJSON the first line says what the file holds and the last that it is whole; CSV names the site in each row.
 * Values are raw, as they came, before polarity, scale, range and clock offsets; numbers are written so that they
 * read back to the same bits, times to the microsecond.
 */
export const EXPORT_FORMATS = ['csv', 'ndjson'] as const;
export type ExportFormat = (typeof EXPORT_FORMATS)[number];
export const EXPORTED = ['samples', 'intervals', 'waveforms', 'events'] as const;
export type Exported = (typeof EXPORTED)[number];
/** Raised where a reader of the version before would misunderstand. */
export const EXPORT_VERSION = 1;

/** The first line in NDJSON; from and to are null where the whole record was asked for. */
export interface ExportHead {
  readonly holds: Exported;
  readonly version: number;
  readonly site: string;
  readonly from: string | null;
  readonly to: string | null;
}
/** The last line in NDJSON. */
export interface ExportEnd {
  readonly end: true;
  readonly rows: number;
}

/** A sample as it leaves: `point` is `<device>/<signal>`. */
export interface ExportedSample {
  readonly point: string;
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
}

/** A sample as NDJSON says it; `q` is left out when good, `conflict` when none. */
export interface WrittenSample {
  readonly point: string;
  readonly t: string;
  readonly v: number;
  readonly q?: QualityWord;
  readonly conflict?: true;
}

const writtenSample = ({ point, t, value, quality }: ExportedSample): WrittenSample => ({
  point,
  t: formatInstant(t),
  v: value,
  ...(qualityLevel(quality) === 0 ? {} : { q: qualityWord(quality) }),
  ...(isConflict(quality) ? { conflict: true as const } : {}),
});

export const SAMPLE_COLUMNS = ['site', 'point', 't', 'value', 'quality', 'conflict'] as const;
const sampleCells = (site: string, one: ExportedSample) => [
  site,
  one.point,
  formatInstant(one.t),
  one.value,
  qualityWord(one.quality),
  isConflict(one.quality) ? 1 : 0,
];

export const EVENT_COLUMNS = [
  ...([
    'site',
    'id',
    'kind',
    'cause',
    'certainty',
    'causeCertainty',
    'space',
    'panel',
    'unit',
    'gateway',
  ] as const),
  ...([
    'point',
    'discriminator',
    'startEarliest',
    'startLatest',
    'endEarliest',
    'endLatest',
    'pending',
  ] as const),
  ...(['members', 'measures', 'revision', 'inferredAt'] as const),
];
const eventCells = (event: EventAnswer) => [
  event.site,
  event.id,
  event.kind,
  event.cause,
  event.certainty,
  event.causeCertainty,
  event.space,
  event.panel,
  event.unit,
  event.gateway ?? null,
  event.point ?? null,
  event.discriminator,
  event.start.earliest,
  event.start.latest,
  event.end?.earliest ?? null,
  event.end?.latest ?? null,
  event.pending.join(' '),
  event.members.join(' '),
  JSON.stringify(event.measures),
  event.revision,
  event.inferredAt,
];

/** What a file is made of, beginning to end, as text. */
export interface ExportWriter<Row> {
  readonly head: string;
  rows(rows: readonly Row[]): string;
  end(rows: number): string;
}

const json = (value: unknown): string => `${JSON.stringify(value)}\n`;
const asNdjson = <Row>(head: ExportHead, write: (row: Row) => unknown): ExportWriter<Row> => ({
  head: json(head),
  rows: (rows) => rows.map((row) => json(write(row))).join(''),
  end: (rows) => json({ end: true, rows } satisfies ExportEnd),
});

const asCsv = <Row>(columns: readonly string[], cells: (row: Row) => readonly Cell[]): ExportWriter<Row> => ({
  head: csvOf(columns, []),
  rows: (rows) => csvLines(rows.map(cells)),
  end: () => '',
});

/** How one thing is written: a row as a document, or as the cells of its columns. */
export interface WrittenForm<Row> {
  readonly columns: readonly string[];
  written(row: Row): unknown;
  cells(site: string, row: Row): readonly Cell[];
}

export const writerOf =
  <Row>({ columns, written, cells }: WrittenForm<Row>) =>
  (format: ExportFormat, head: ExportHead): ExportWriter<Row> =>
    format === 'ndjson' ? asNdjson(head, written) : asCsv(columns, (row) => cells(head.site, row));

export const samplesWriter = writerOf<ExportedSample>({
  columns: SAMPLE_COLUMNS,
  written: writtenSample,
  cells: sampleCells,
});

export const eventsWriter = writerOf<EventAnswer>({
  columns: EVENT_COLUMNS,
  written: (event) => event,
  cells: (_, event) => eventCells(event),
});
