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

/**
 * What is wrong with an open page as it stands: rules of axe that it breaks, each with its elements, and how far it runs
 * out of its width. All in the page's own frame, since no page of ours has another. The linter is asked directly and gives
 * back only what it found: its whole report, which is some 400 kB, took longer to bring over than to make.
 */
export async function faultsOf(page: Page): Promise<string[]> {
  const devtools = await page.context().newCDPSession(page);
  const run = async (expression: string): Promise<unknown> => {
    const asked = { expression, awaitPromise: true, returnByValue: true };
    const { result, exceptionDetails } = await devtools.send('Runtime.evaluate', asked);
    if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
    return result.value;
  };
  if ((await run('typeof axe')) === 'undefined') await run(`${AXE};0`);
  const { broken, wider } = (await run(LOOK)) as { broken: string[]; wider: number };
  await devtools.detach();
  return wider > 0 ? [...broken, `${wider} px too wide`] : broken;
}
