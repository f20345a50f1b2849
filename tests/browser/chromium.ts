import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser, type BrowserContext } from 'playwright-core';

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
/**
 * Each width and each ground once: what axe finds depends on one or the other. With SHOTS all four, for the pictures; with
 * CI=true the narrow dark one, for its time (fixtures/seed.ts).
 */
export const CHECKED: readonly Look[] = checkedLooks();

function checkedLooks(): readonly Look[] {
  if (process.env['SHOTS']) return LOOKS;
  return process.env['CI'] === 'true' ? [LOOKS[3]!] : [LOOKS[0]!, LOOKS[3]!];
}

const how = {
  executablePath: process.env['CHROMIUM'] ?? '/usr/bin/chromium',
  headless: true,
  args: FLAGS,
};
let started: Promise<Browser> | null = null;

/** The one browser of this process: each look at a page is a profile of its own in it. It ends with the process. */
const sharedBrowser = (): Promise<Browser> => (started ??= chromium.launch(how));

/** For a program that is to end by itself. */
export async function endBrowser(): Promise<void> {
  await (await started)?.close();
  started = null;
}

/**
 * Without service workers unless a test is about them: what they answer no test's own routes would see. With them it is a
 * browser of its own, as a page is installed in an ordinary profile alone. What a page doesn't come to within a minute, on
 * however slow a machine, doesn't come.
 */
export async function openBrowser(
  look: Look,
  zone = 'America/Chicago',
  serviceWorkers: 'allow' | 'block' = 'block',
): Promise<BrowserContext> {
  const profile = {
    viewport: { width: look.width, height: look.width < 600 ? 844 : 900 },
    colorScheme: look.ground,
    reducedMotion: 'reduce',
    timezoneId: zone,
    locale: 'en-US',
    serviceWorkers,
  } as const;
  const folder = () => mkdtempSync(join(tmpdir(), 'holdoff-browser-'));
  const context =
    serviceWorkers === 'allow'
      ? await chromium.launchPersistentContext(folder(), { ...how, ...profile })
      : await (await sharedBrowser()).newContext(profile);
  context.setDefaultTimeout(60_000);
  return context;
}
