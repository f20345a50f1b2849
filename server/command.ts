/** What commands that ask a running server have in common. */
export const say = (line: string): void => void process.stderr.write(`${line}\n`);

/** On a terminal alone, over what stands there; '' leaves an empty line for what follows. */
export function showProgress(text: string): void {
  if (process.stderr.isTTY) process.stderr.write(text === '' ? '\r' : `\r${text} `);
}

type Read = { readonly ok: true } | { readonly ok: false; readonly help: string };

const LINES_EVERY_MS = 5_000;
const BAR = 30;

/** Progress of so many rows: a bar on a terminal, elsewhere a line now and then and one at the end. */
export class RowsBar {
  #toldAt = -Infinity;

  show(what: string, rows: number, of: number): void {
    const share = of > 0 ? Math.min(1, rows / of) : 1;
    const says = `${Math.floor(100 * share)} %, ${rows} of ${of} rows ${what}`;
    if (process.stderr.isTTY) return showProgress(`${barOf(share)} ${says}`);
    const at = performance.now();
    if (rows < of && at - this.#toldAt < LINES_EVERY_MS) return;
    this.#toldAt = at;
    say(says);
  }
}

function barOf(share: number): string {
  const full = Math.floor(BAR * share);
  return `[${'='.repeat(full)}${' '.repeat(BAR - full)}]`;
}

/** Runs a command with the arguments that were read: faults of theirs end it with 2, its own failure with 1, in words. */
export async function runCommand<R extends Read>(
  read: R,
  run: (asked: Extract<R, { ok: true }>) => Promise<void>,
): Promise<void> {
  if (!read.ok) {
    say(read.help);
    process.exitCode = 2;
    return;
  }
  await run(read as Extract<R, { ok: true }>).catch((error: unknown) => {
    say(error instanceof Error ? error.message : String(error));
    process.exitCode = 1;
  });
}
