import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { openBrowser, type Look } from './chromium.ts';

/** A page in a context of its own; nothing in it may fail unseen. */
export async function withPage(look: Look, work: (page: Page) => Promise<void>): Promise<void> {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  const errors: string[] = [];
  page.on('pageerror', (error) => errors.push(error.message));
  try {
    await work(page);
    expect(errors).toEqual([]);
  } finally {
    await browser.close();
  }
}

/** Pictures for looking at, where the variable names a folder for them. */
export const shooter =
  (variable: string) =>
  async (page: Page, name: string, { width, ground }: Look): Promise<void> => {
    const folder = process.env[variable];
    if (folder === undefined) return;
    mkdirSync(folder, { recursive: true });
    await page.screenshot({ path: `${folder}/${name}-${width}-${ground}.png`, fullPage: true });
  };
