import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { readdir, stat } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';

/** The page as files: built when there is none, or when its sources are newer. */
const ROOT = join(import.meta.dirname, '..');
export const PAGE_FOLDER = join(ROOT, 'web', 'dist');
const SOURCES = [
  'web/src',
  'web/public',
  'web/index.html',
  'web/vite.config.ts',
  'shared',
  'package-lock.json',
];

export type PageBuilt = 'as-it-was' | 'built';

/** In a process of its own, so that the database and the broker start meanwhile; ended with `signal`. */
export async function buildPage(signal: AbortSignal): Promise<PageBuilt> {
  if (await isFresh()) return 'as-it-was';
  const vite = join(dirname(createRequire(import.meta.url).resolve('vite/package.json')), 'bin', 'vite.js');
  const child = spawn(process.execPath, [vite, 'build', join(ROOT, 'web'), '--logLevel', 'warn'], {
    cwd: ROOT,
    // the page that people get, whatever this process is called for
    env: { ...process.env, NODE_ENV: 'production' },
    stdio: ['ignore', 'pipe', 'pipe'],
    signal,
  });
  let said = '';
  for (const stream of [child.stdout, child.stderr])
    stream.on('data', (text: Buffer) => (said += text.toString()));
  const [code] = (await once(child, 'exit')) as [number | null];
  if (code !== 0) throw new Error(`The page couldn’t be built:\n${said.slice(-4000)}`);
  return 'built';
}

async function isFresh(): Promise<boolean> {
  const built = join(PAGE_FOLDER, 'index.html');
  if (!existsSync(built) || !existsSync(join(PAGE_FOLDER, 'service-worker.js'))) return false;
  if (!existsSync(join(ROOT, 'web', 'src'))) return true; // only what was built has been installed
  const { mtimeMs } = await stat(built);
  const newest = await Promise.all(SOURCES.map((path) => newestIn(join(ROOT, path))));
  return Math.max(...newest) <= mtimeMs;
}

async function newestIn(path: string): Promise<number> {
  if (!existsSync(path)) return 0;
  const found = await stat(path);
  if (!found.isDirectory()) return found.mtimeMs;
  const below = await readdir(path);
  return Math.max(0, ...(await Promise.all(below.map((name) => newestIn(join(path, name))))));
}
