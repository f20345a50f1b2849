import type { Logger } from 'pino';

/**
 * A process from its start to its orderly end: stages are stopped in the opposite order, on SIGINT, on SIGTERM, and when a
 * later stage can't start. A second signal doesn't wait.
 */
export interface Stages {
  /** raised when the end has been asked for */
  readonly signal: AbortSignal;
  started(name: string, stop: () => Promise<void>): void;
}

/** What is left when a stage doesn't come to its end in this time is given up. */
const PATIENCE_MS = 20_000;

export async function runUntilStopped(
  logger: Logger,
  start: (stages: Stages) => Promise<void>,
): Promise<void> {
  const stopping = new AbortController();
  const stages: { readonly name: string; readonly stop: () => Promise<void> }[] = [];
  const asked = new Promise<void>((resolve) => {
    const ask = (signal: NodeJS.Signals) => {
      if (stopping.signal.aborted) process.exit(signal === 'SIGINT' ? 130 : 143);
      logger.info('Stopping …');
      stopping.abort();
      resolve();
    };
    process.on('SIGINT', ask).on('SIGTERM', ask);
  });
  try {
    const starting = start({ signal: stopping.signal, started: (name, stop) => stages.push({ name, stop }) });
    await Promise.race([starting, asked]);
    if (stopping.signal.aborted) await starting.catch(() => {}); // what is half started is finished, then stopped
    await asked;
  } catch (error) {
    logger.fatal(explain(error));
    process.exitCode = 1;
  }
  const impatient = setTimeout(() => process.exit(1), PATIENCE_MS);
  impatient.unref();
  for (const { name, stop } of stages.reverse()) {
    await stop().catch((error: unknown) => logger.error({ err: error }, `${name} didn’t stop in order`));
  }
  if (process.exitCode === undefined) logger.info('Stopped.');
  process.exit();
}

/** What went wrong, in words that say what to do where that is known. */
function explain(error: unknown): string {
  const { code, port, message } = error as { code?: string; port?: number; message?: string };
  if (code === 'EADDRINUSE')
    return `Port ${port} is taken by another program: end that, or set PORT to another.`;
  if (code === 'EACCES' && port !== undefined)
    return `Port ${port} may not be used by this account: set PORT to one above 1023.`;
  return message ?? String(error);
}
