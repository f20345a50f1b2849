import pino, { type DestinationStream, type Logger } from 'pino';
import { logLevelOf } from './settings.ts';

/**
 * What the server says. For a person at a terminal: the time and a sentence. Elsewhere: one JSON object a line, for
 * whoever collects them.
 */
export function makeLogger(name: string): Logger {
  const options = { name, level: logLevelOf(process.env) };
  return process.stdout.isTTY ? pino(options, sentences()) : pino(options);
}

interface Line {
  readonly time: number;
  readonly level: number;
  readonly msg: string;
  readonly err?: { readonly stack?: string };
}

function sentences(): DestinationStream {
  return {
    write(text: string) {
      const line = JSON.parse(text) as Line;
      const clock = new Date(line.time).toTimeString().slice(0, 8);
      const mark = line.level >= 50 ? 'error: ' : line.level >= 40 ? 'note: ' : '';
      const more = line.err?.stack ? `\n${line.err.stack}` : '';
      process.stdout.write(`${clock}  ${mark}${line.msg}${more}\n`);
    },
  };
}
