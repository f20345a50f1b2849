import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type BrowserContext } from 'playwright-core';

/** Debian's chromium, or the one that CHROMIUM names; nothing that it does leaves this machine. */
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export interface Look {
  readonly width: number;
  readonly ground: 'light' | 'dark';
}
export const LOOKS: readonly Look[] = [
  { width: 1440, ground: 'light' },
  { width: 1440, ground: 'dark' },
  { width: 390, ground: 'light' },
  { width: 390, ground: 'dark' },
];
/** Each width and each ground once: what axe finds depends on one or the other. With SHOTS all four, for the pictures. */
export const CHECKED: readonly Look[] = process.env['SHOTS'] ? LOOKS : [LOOKS[0]!, LOOKS[3]!];

/** Without service workers unless a test is about them: what they answer no test's own routes would see. */
export function openBrowser(
  look: Look,
  zone = 'America/Chicago',
  serviceWorkers: 'allow' | 'block' = 'block',
): Promise<BrowserContext> {
  return chromium.launchPersistentContext(mkdtempSync(join(tmpdir(), 'holdoff-browser-')), {
    executablePath: process.env['CHROMIUM'] ?? '/usr/bin/chromium',
    headless: true,
    args: FLAGS,
    viewport: { width: look.width, height: look.width < 600 ? 844 : 900 },
    colorScheme: look.ground,
    reducedMotion: 'reduce',
    timezoneId: zone,
    locale: 'en-US',
    serviceWorkers,
  });
}
