import { spawn } from 'node:child_process';
import { once } from 'node:events';

/**
 * What `npm run check` runs: compilers, linter and format, two beside one another, the dearest first. Each one's words are
 * printed when it has ended; the exit code is 1 if any found something. That `shared` compiles with the language alone is a
 * test (tests/tidy/pure-compile.test.ts).
 */
const CHECKS: readonly (readonly string[])[] = [
  ['prettier', '--check', '--log-level', 'warn', '.'],
  ['eslint', '.'],
  ['tsc', '-p', '.'],
  ['svelte-check', '--tsconfig', 'web/tsconfig.json', '--threshold', 'warning'],
];
const BESIDE = 2;

async function passes([program, ...options]: readonly string[]): Promise<boolean> {
  const begun = performance.now();
  // npm puts the project's own programs on the path; on Windows they are scripts, which a shell has to find
  const child = spawn(program!, options, {
    stdio: ['ignore', 'pipe', 'pipe'],
    shell: process.platform === 'win32',
  });
  let said = '';
  for (const stream of [child.stdout, child.stderr])
    stream.setEncoding('utf8').on('data', (text: string) => (said += text));
  const [code] = (await once(child, 'close')) as [number | null];
  const took = ((performance.now() - begun) / 1000).toFixed(0);
  console.log(`${program} ${options.join(' ')}: ${code === 0 ? 'well' : 'faults'} after ${took} s`);
  if (code !== 0) console.log(said);
  return code === 0;
}

const left = [...CHECKS];
const found: boolean[] = [];
async function work(): Promise<void> {
  for (let next = left.shift(); next; next = left.shift()) found.push(await passes(next));
}
await Promise.all(Array.from({ length: BESIDE }, work));
process.exitCode = found.every(Boolean) ? 0 : 1;
