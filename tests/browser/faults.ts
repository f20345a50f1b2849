import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';

const AXE = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** Rules that the document breaks, and how far it runs out of its width: of all that axe finds no more leaves the page. */
const LOOK = `axe.run(document, { resultTypes: ['violations'] }).then(({ violations }) => ({
  broken: violations.map(
    ({ id, nodes }) => id + ': ' + nodes.map(({ html }) => html.slice(0, 120)).join(' | ')),
  wider: document.documentElement.scrollWidth - document.documentElement.clientWidth,
}))`;

/** Far longer than it takes on the slowest machine, ms. */
const PATIENCE_MS = 90_000;

/**
 * What is wrong with an open page as it stands: rules of axe that it breaks, each with its elements, and how far it runs
 * out of its width. All in the page's own frame, since no page of ours has another. The linter is asked directly and gives
 * back only what it found: its whole report, which is some 400 kB, took longer to bring over than to make. The page is
 * brought to the front, as a tab behind another isn't sure to be served; one that doesn't answer is asked once more, anew.
 */
export async function faultsOf(page: Page): Promise<string[]> {
  await page.bringToFront();
  const found = (await look(page, false)) ?? (await look(page, true));
  if (found === null) throw new Error(`axe didn’t come to an end on ${page.url()}, twice.`);
  return found.wider > 0 ? [...found.broken, `${found.wider} px too wide`] : found.broken;
}

interface Found {
  readonly broken: string[];
  readonly wider: number;
}

/** `anew`: with a linter of its own, whatever a former one is still about. Null: no answer in time. */
async function look(page: Page, anew: boolean): Promise<Found | null> {
  const devtools = await page.context().newCDPSession(page);
  const run = async (expression: string): Promise<unknown> => {
    const asked = { expression, awaitPromise: true, returnByValue: true };
    const { result, exceptionDetails } = await devtools.send('Runtime.evaluate', asked);
    if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
    return result.value;
  };
  const answer = async (): Promise<Found> => {
    if (anew || (await run('typeof axe')) === 'undefined') await run(`${AXE};0`);
    return (await run(LOOK)) as Found;
  };
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<null>((over) => (timer = setTimeout(() => over(null), PATIENCE_MS)));
  try {
    return await Promise.race([answer(), late]);
  } finally {
    clearTimeout(timer);
    await devtools.detach();
  }
}
