import { readFileSync } from 'node:fs';
import { endBrowser, LOOKS, openBrowser } from './chromium.ts';

/** `npx tsx tests/browser/draw-icons.ts`: the icons of the installed page, drawn from its mark. */
const PUBLIC = new URL('../../web/public/', import.meta.url).pathname;
const mark = readFileSync(`${PUBLIC}mark.svg`, 'utf8');
const ground = /<rect[^>]* fill="(#\w+)"/.exec(mark)![1]!;

/** `share` of the side is drawn on; of a maskable icon only a circle of 80 % is sure to be seen (W3C Web App Manifest). */
const ICONS = [
  { file: 'icon-192.png', side: 192, share: 1 },
  { file: 'icon-512.png', side: 512, share: 1 },
  { file: 'icon-maskable-512.png', side: 512, share: 0.62 },
];

const browser = await openBrowser(LOOKS[0]!);
for (const { file, side, share } of ICONS) {
  const page = await browser.newPage();
  await page.setViewportSize({ width: side, height: side });
  const inner = Math.round(side * share);
  await page.setContent(
    `<style>body{margin:0;background:${ground};display:grid;place-items:center;height:100vh}
    svg{width:${inner}px;height:${inner}px}</style>${mark}`,
  );
  await page.screenshot({ path: `${PUBLIC}${file}` });
  await page.close();
}
await browser.close();
await endBrowser();
