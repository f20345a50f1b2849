import pino, { type DestinationStream, type Logger } from 'pino';
import { lineShape } from '../shared/wire/log-lines.ts';
import { logLevelOf } from './settings.ts';

/**
 * What the server says. For a person at a terminal: the time and a sentence. Elsewhere: one JSON object a line
 * (shared/wire/log-lines.ts), for whoever collects them.
 */
export function makeLogger(name: string): Logger {
  const { formatters, hooks, tellMore } = lineShape(Date.now);
  const level = logLevelOf(process.env);
  const options = {
    base: { process: name, pid: process.pid },
    ...{ level, formatters, hooks, timestamp: pino.stdTimeFunctions.isoTime },
  };
  const logger = process.stdout.isTTY ? pino(options, sentences()) : pino(options);
  setInterval(tellMore, TELL_MORE_MS).unref();
  process.once('exit', () => tellMore(true));
  return logger;
}

const TELL_MORE_MS = 5_000;

interface Line {
  readonly time: string;
  readonly level: string;
  readonly msg: string;
  readonly site?: string;
  readonly subject?: string;
  readonly reason?: string;
  readonly err?: { readonly stack?: string };
}

const MARKS: Readonly<Record<string, string>> = { warn: 'note: ', error: 'error: ', fatal: 'error: ' };

function sentences(): DestinationStream {
  return {
    write(text: string) {
      const line = JSON.parse(text) as Line;
      const clock = new Date(line.time).toTimeString().slice(0, 8);
      const about = [line.site, line.subject, line.reason].filter((word) => word !== undefined).join(', ');
      const more = line.err?.stack ? `\n${line.err.stack}` : '';
      process.stdout.write(
        `${clock}  ${MARKS[line.level] ?? ''}${line.msg}${about === '' ? '' : ` (${about})`}${more}\n`,
      );
    },
  };
}
