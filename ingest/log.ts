import { pino, type Logger } from 'pino';
import { lineShape } from '../shared/wire/log-lines.ts';
import type { Observation, Observe } from './observation.ts';

type Level = 'debug' | 'info' | 'warn' | 'error';

/** How loud each observation is; what comes with every batch is for debugging. */
const LEVELS: Record<Observation['kind'], Level> = {
  committed: 'debug',
  'set-aside': 'info',
  'commit-delayed': 'warn',
  'commit-refused': 'error',
  'trim-failed': 'warn',
  'heard-not-kept': 'warn',
  'database-retried': 'debug',
  'database-connection-lost': 'warn',
  'configuration-read': 'info',
  'held-back': 'debug',
  'let-go': 'debug',
  'broker-connected': 'info',
  'broker-lost': 'warn',
  'broker-error': 'warn',
  'subscription-refused': 'error',
  'listening-to': 'info',
  'rebirth-asked': 'info',
  'sequence-gap': 'warn',
  'host-lease': 'info',
  'session-lost': 'error',
  left: 'info',
  'host-state': 'info',
  'caught-up': 'info',
  'acknowledgements-dropped': 'info',
  listening: 'info',
  'client-connected': 'debug',
  'client-gone': 'debug',
  'client-refused': 'warn',
  'gateway-refused': 'warn',
  'refusals-not-kept': 'warn',
  'broker-log-unread': 'warn',
  'tls-certificate': 'debug',
  'tls-certificate-ends': 'warn',
  stopped: 'info',
};

/** Ingest by itself: one JSON object a line (shared/wire/log-lines.ts). */
export function makeIngestLogger(level: string): Logger {
  const { formatters, hooks, tellMore } = lineShape(Date.now);
  const base = { process: 'ingest', pid: process.pid };
  const logger = pino({ base, level, formatters, hooks, timestamp: pino.stdTimeFunctions.isoTime });
  setInterval(tellMore, TELL_MORE_MS).unref();
  process.once('exit', () => tellMore(true));
  return logger;
}

const TELL_MORE_MS = 5_000;

/** One observation, one line: its kind is what happened, the rest its fields. */
export function logObservations(logger: Logger): Observe {
  const ofIngest = logger.child({ part: 'ingest' });
  return ({ kind, ...fields }) => ofIngest[LEVELS[kind]](fields, kind);
}
