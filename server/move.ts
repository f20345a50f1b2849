import { moveInstallation, type MoveDone } from '../db/move/move.ts';
import { openInstallation } from '../db/open-installation.ts';
import { openDatabase, type Database } from '../db/pool.ts';
import { RowsBar, runCommand, say, showProgress } from './command.ts';
import { readSettings, type Settings } from './settings.ts';

const HELP = `npm run move -- --to <DATABASE_URL>

Moves the whole installation into another, empty database, such as from the embedded PostgreSQL to one with TimescaleDB. DATABASE_URL
and DATA_DIR say which installation; nothing may be at work on it. Killed or failed, it goes on where it was when it is called
again. At the end every table is compared by count and digest. The old one stays as it is.`;

/** Long, for one statement may read a whole table. */
const STATEMENT_TIMEOUT_MS = 6 * 3_600_000;

type Asked = { readonly ok: true; readonly to: string; readonly settings: Settings };

function read(words: readonly string[]): Asked | { readonly ok: false; readonly help: string } {
  const settings = readSettings(process.env);
  if (!settings.ok) return { ok: false, help: settings.faults.join('\n') };
  const [word, to] = words;
  if (words.length !== 2 || word !== '--to' || to === undefined) return { ok: false, help: HELP };
  if (!/^postgres(ql)?:\/\//.test(to) || !URL.canParse(to))
    return {
      ok: false,
      help: '--to isn’t an address of that kind: it begins with postgres:// or postgresql://.',
    };
  return { ok: true, to, settings: settings.settings };
}

/** `npm run move -- --to <DATABASE_URL>` */
await runCommand<Asked | { readonly ok: false; readonly help: string }>(
  read(process.argv.slice(2)),
  async ({ to, settings: { databaseUrl: url, dataFolder } }) => {
    const installation = await openInstallation({ url, dataFolder, alone: true });
    const target = openDatabase({
      url: to,
      name: 'holdoff-move',
      connections: 4,
      statementTimeoutMs: STATEMENT_TIMEOUT_MS,
      connectTimeoutMs: 10_000,
    });
    try {
      tell(await move(installation.database, target), to);
    } finally {
      await target.close();
      await installation.close();
    }
  },
);

async function move(from: Database, to: Database): Promise<MoveDone> {
  const bar = new RowsBar();
  const done = await moveInstallation(from, to, {
    progress: ({ what, table, rows, of }) => bar.show(`${what} (${table})`, rows, of),
  });
  showProgress('');
  return done;
}

function tell({ tables, rows, again, isResumed, storage }: MoveDone, to: string): void {
  const kept = storage.kind === 'timescaledb' ? `TimescaleDB ${storage.version}` : 'plain PostgreSQL';
  if (isResumed) say('It went on with a move that had been begun.');
  if (again > 0) say(`${again} parts had changed since they were copied, and were copied again.`);
  say(`${rows} rows of ${tables} tables are there, the same by count and digest. Samples lie in ${kept}.`);
  say(`Set DATABASE_URL=${withoutPassword(to)} and start. The old one is as it was: never start it as well.`);
}

function withoutPassword(text: string): string {
  const url = new URL(text);
  if (url.password !== '') url.password = '…';
  return decodeURI(url.toString()).replace('%E2%80%A6', '…');
}
