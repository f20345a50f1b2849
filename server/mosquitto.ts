import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { setTimeout as delay } from 'node:timers/promises';
import { keptPassword, newPassword } from '../db/kept-password.ts';
import type { MosquittoFiles } from '../shared/wire/gateway-access.ts';
import { askServer } from './ask-server.ts';
import { runCommand, say } from './command.ts';
import { readFileArguments, type FileArguments } from './gateways/file-arguments.ts';

/** `npm run mosquitto -- …`: the password and access files for a Mosquitto, from a running server. */
type Asked = Extract<FileArguments, { ok: true }>;

await runCommand(readFileArguments(process.argv.slice(2)), run);

async function run(asked: Asked): Promise<void> {
  await writeFiles(asked);
  while (asked.everySeconds !== null) {
    await delay(asked.everySeconds * 1_000);
    // the files that are there go on to count: a server that restarts throws nobody out
    await writeFiles(asked).catch((error: unknown) =>
      say(error instanceof Error ? error.message : String(error)),
    );
  }
}

async function writeFiles({ api, folder, ingestUser, pidFile }: Asked): Promise<void> {
  const path = `/api/broker/mosquitto?ingest-user=${encodeURIComponent(ingestUser)}`;
  const files = await askServer<MosquittoFiles>(api, 'GET', path);
  await mkdir(folder, { recursive: true });
  const own = await ingestLine(join(folder, 'passwords'), ingestUser);
  const changed = [
    await put(join(folder, 'passwords'), `${own}\n${files.passwords}`),
    await put(join(folder, 'access'), files.access),
    await put(join(folder, 'certificates.pem'), files.certificates),
  ].some(Boolean);
  if (!changed) return;
  say(
    `The files in ${folder} are new.${files.nextChangeAt ? ` They change again at ${files.nextChangeAt}.` : ''}`,
  );
  if (pidFile === null) say('Let Mosquitto read them: kill -HUP <its process id>, or restart it.');
  else process.kill(Number((await readFile(pidFile, 'utf8')).trim()), 'SIGHUP');
}

/** The line of ingest's own user, as it stands in the file; there is none yet: a new one, whose password is told. */
async function ingestLine(file: string, user: string): Promise<string> {
  const before = await readFile(file, 'utf8').catch(() => '');
  const line = before.split('\n').find((one) => one.startsWith(`${user}:`));
  if (line !== undefined) return line;
  const password = newPassword();
  say(`Ingest connects as ${user}, with a password that is told this once:`);
  say(`  MQTT_URL=mqtt://${user}:${password}@<the broker>:1883`);
  return `${user}:${await keptPassword(password)}`;
}

/** Whole or not at all, for its owner's eyes alone; false: it stands there already. */
async function put(file: string, text: string): Promise<boolean> {
  if ((await readFile(file, 'utf8').catch(() => null)) === text) return false;
  await writeFile(`${file}.part`, text, { mode: 0o600 });
  await rename(`${file}.part`, file);
  return true;
}
