import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';

/**
 * What is wrong with an open page as it stands: rules of axe that it breaks, each with its elements, and how far it runs
 * out of its width. All in the page's own frame, since no page of ours has another (three times as fast).
 */
export async function faultsOf(page: Page): Promise<string[]> {
  const { violations } = await new AxeBuilder({ page }).setLegacyMode().analyze();
  const faults = violations.map(
    ({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html.slice(0, 120)).join(' | ')}`,
  );
  const wider = await page.evaluate<number>(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  );
  return wider > 0 ? [...faults, `${wider} px too wide`] : faults;
}
