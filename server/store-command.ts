import { runCommand } from './command.ts';
import { readSettings, type Settings } from './settings.ts';

/** What commands that work on the database itself are given: one word, and where the installation is by the environment. */
export interface StoreCommand {
  readonly ok: true;
  readonly word: string;
  readonly settings: Settings;
}

export function runStoreCommand(help: string, run: (asked: StoreCommand) => Promise<void>): Promise<void> {
  const words = process.argv.slice(2);
  const read = readSettings(process.env);
  if (!read.ok) return runCommand({ ok: false as const, help: read.faults.join('\n') }, async () => {});
  const [word] = words;
  if (words.length !== 1 || word === undefined || word.startsWith('-'))
    return runCommand({ ok: false as const, help }, async () => {});
  return runCommand<StoreCommand>({ ok: true, word, settings: read.settings }, run);
}
