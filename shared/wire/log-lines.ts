import { LogFlood } from './log-flood.ts';

/**
 * What a log line is, in every process alike: one event, one line, one JSON object, with these fields and no others. Numbers
 * that have no field of their own go under `counts`, anything else under `details`.
 */
export const LOG_FIELDS = {
  time: 'when, ISO 8601 UTC',
  level: '`debug`, `info`, `warn`, `error` or `fatal`',
  process: 'which program: `holdoff` (all in one), `server`, `ingest`',
  pid: 'its process id',
  part: 'which part of it: `ingest`, `follow`, `alarms`, `notices`, `live`, `http`, `series`, `watcher`, `accounts`, `database`',
  msg: 'what happened; the same words for the same thing, so that lines can be counted by it',
  site: 'of which site',
  subject: 'of which unit, panel, space or gateway: `unit/unit-1`',
  gateway: 'of which gateway',
  topic: 'on which MQTT topic',
  client: 'which client of the broker',
  alarm: 'about which alarm',
  delivery: 'which message to somebody',
  reqId: 'which request over HTTP',
  reason: 'why, as a word of a closed list where there is one',
  counts: 'numbers by name',
  tookMs: 'how long it took, ms',
  err: '`type`, `message`, `stack` of an error',
  details: 'whatever else belongs to it',
} as const;

/** Names that parts use for what has a field here. */
const CALLED: Readonly<Record<string, keyof typeof LOG_FIELDS>> = {
  error: 'err',
  why: 'reason',
  milliseconds: 'tookMs',
};

type Fields = Readonly<Record<string, unknown>>;

/** What was said beside the sentence, under the fields above. */
function logFields(said: Fields): Fields {
  const fields: Record<string, unknown> = {};
  const counts: Record<string, unknown> = {};
  const details: Record<string, unknown> = {};
  for (const [name, value] of Object.entries(said)) {
    const field = CALLED[name] ?? name;
    if (Object.hasOwn(LOG_FIELDS, field)) fields[field] = value;
    else if (typeof value === 'number') counts[name] = value;
    else if (value !== undefined && value !== null) details[name] = value;
  }
  if (Object.keys(counts).length > 0) fields['counts'] = { ...(fields['counts'] as object), ...counts };
  if (Object.keys(details).length > 0) fields['details'] = { ...(fields['details'] as object), ...details };
  return fields;
}

/** As much of a logger as is needed here: it writes one line. */
type WriteLine = (line: object, sentence: string) => void;

export interface LineShape {
  readonly formatters: {
    level(label: string): object;
    log(said: Record<string, unknown>): Record<string, unknown>;
  };
  readonly hooks: {
    logMethod(this: unknown, said: unknown[], write: (...said: unknown[]) => void, level: number): void;
  };
  /** Tells how many lines weren't written; to be called every few seconds and at the end. */
  tellMore(everything?: boolean): void;
}

/** Below this (debug) everything is written: somebody has asked for it. From `fatal` on nothing is left out. */
const INFO = 30;
const FATAL = 60;

/** How a logger writes such lines and keeps a flood of one kind out. `now`: ms. */
export function lineShape(now: () => number): LineShape {
  const flood = new LogFlood<{
    readonly write: WriteLine;
    readonly sentence: string;
    readonly reason: unknown;
  }>();
  return {
    formatters: { level: (level) => ({ level }), log: (said) => ({ ...logFields(said) }) },
    hooks: {
      logMethod(said, write, level) {
        if (level < INFO || level >= FATAL) return write.apply(this, said);
        const { kind, sentence, reason } = kindOf(said, level);
        const told = { sentence, reason, write: (...line: unknown[]) => write.apply(this, line) };
        if (flood.mayWrite(kind, now(), told)) write.apply(this, said);
      },
    },
    tellMore(everything = false) {
      for (const { told, more } of flood.takeMore(everything ? Infinity : now())) {
        const { sentence, reason } = told;
        told.write({ reason, counts: { more } }, `${grouped(more)} more like this: ${sentence}`);
      }
    },
  };
}

/** Lines are of one kind by their level, their words and their reason. */
function kindOf(said: readonly unknown[], level: number) {
  const [first, second] = said;
  const fields = (typeof first === 'object' && first !== null ? first : {}) as Record<string, unknown>;
  const sentence = typeof first === 'string' ? first : typeof second === 'string' ? second : '';
  const error = (fields['err'] ?? fields['error']) as { readonly code?: unknown } | undefined;
  const reason = fields['reason'] ?? fields['why'] ?? error?.code;
  return { kind: `${level} ${sentence} ${String(reason ?? '')}`, sentence, reason };
}

const grouped = (count: number): string => String(count).replace(/\B(?=(\d{3})+$)/g, ',');
