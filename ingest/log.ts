import type { Logger } from 'pino';
import type { Observation, Observe } from './observation.ts';

type Level = 'debug' | 'info' | 'warn' | 'error';

/** How loud each observation is; what comes with every batch is for debugging. */
const LEVELS: Record<Observation['kind'], Level> = {
  committed: 'debug',
  'set-aside': 'debug',
  'commit-delayed': 'warn',
  'commit-refused': 'error',
  'trim-failed': 'warn',
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
  'host-state': 'info',
  'caught-up': 'info',
  'acknowledgements-dropped': 'info',
  listening: 'info',
  'client-connected': 'debug',
  'client-gone': 'debug',
  'client-refused': 'warn',
  stopped: 'info',
};

export function logObservations(logger: Logger): Observe {
  return ({ kind, ...rest }) => {
    const { error, ...fields } = rest as { readonly error?: Error };
    logger[LEVELS[kind]](error ? { ...fields, error: error.message } : fields, kind);
  };
}
