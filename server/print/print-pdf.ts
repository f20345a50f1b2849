import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import PDFDocument from 'pdfkit';
import type { Block, PrintedDocument } from './blocks.ts';
import { drawChart } from './draw-chart.ts';
import { drawDrawing } from './draw-drawing.ts';
import { drawTable } from './draw-table.ts';
import { BODY, BOLD, INK, MARGIN, REGULAR, SMALL, type Sheet } from './sheet.ts';

/**
 * Blocks to PDF. Answers the whole document's bytes. A document that can't be made throws, as any fault of ours; words
 * of any length wrap, tables go on over pages with their head repeated.
 */
export function printPdf(asked: PrintedDocument): Promise<Buffer> {
  const sheet = newSheet(asked);
  const whole = collected(sheet);
  sheet.font(BOLD).fontSize(15).text(asked.title, { lineGap: 1 });
  sheet.moveDown(0.4);
  for (const block of asked.blocks) drawBlock(sheet, block);
  foot(sheet, asked);
  sheet.end();
  return whole;
}

function newSheet(asked: PrintedDocument): Sheet {
  const sheet: Sheet = new PDFDocument({
    size: asked.paper === 'letter' ? 'LETTER' : 'A4',
    margins: { top: MARGIN, bottom: MARGIN, left: MARGIN, right: MARGIN },
    bufferPages: true,
    lang: 'en',
    displayTitle: true,
    info: {
      Title: asked.title,
      Creator: 'Holdoff',
      Producer: 'Holdoff',
      CreationDate: new Date(asked.madeAt / 1000),
    },
  });
  for (const name of [REGULAR, BOLD]) sheet.registerFont(name, fontFile(name));
  return sheet.fillColor(INK).strokeColor(INK);
}

const files = new Map<string, Buffer>();

/** Read once: each document takes of it the letters that it uses. */
function fontFile(name: string): Buffer {
  const known = files.get(name);
  if (known) return known;
  const file = readFileSync(fileURLToPath(import.meta.resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`)));
  files.set(name, file);
  return file;
}

function collected(sheet: Sheet): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const parts: Buffer[] = [];
    sheet.on('data', (part: Buffer) => parts.push(part));
    sheet.on('end', () => resolve(Buffer.concat(parts)));
    sheet.on('error', reject);
  });
}

function drawBlock(sheet: Sheet, block: Block): void {
  switch (block.kind) {
    case 'heading':
      keepTogether(sheet, 60);
      sheet.moveDown(0.7).font(BOLD).fontSize(11).text(block.text).moveDown(0.25);
      return;
    case 'paragraph':
      sheet.font(REGULAR).fontSize(block.small ? SMALL : BODY);
      sheet.text(block.text, { lineGap: 1.5 }).moveDown(0.35);
      return;
    case 'list':
      for (const item of block.items) drawItem(sheet, item);
      return;
    case 'table':
      return drawTable(sheet, block);
    case 'chart':
      return drawChart(sheet, block);
    case 'legend':
      return drawLegend(sheet, block.drawings);
    case 'fields':
      for (const label of block.labels) drawField(sheet, label);
  }
}

function drawItem(sheet: Sheet, item: string): void {
  sheet.font(REGULAR).fontSize(BODY);
  keepTogether(sheet, 14);
  const { x, y } = sheet;
  sheet.text('–', x, y).text(item, x + 12, y, { lineGap: 1.5, width: widthOf(sheet) - 12 });
  sheet.x = x;
  sheet.moveDown(0.2);
}

function drawField(sheet: Sheet, label: string): void {
  keepTogether(sheet, 26);
  sheet.font(REGULAR).fontSize(BODY);
  const { x, y } = sheet;
  sheet
    .lineWidth(0.7)
    .rect(x, y + 2, 8, 8)
    .stroke();
  sheet.text(label, x + 14, y, { lineBreak: false });
  const from = x + 20 + sheet.widthOfString(label);
  sheet
    .lineWidth(0.4)
    .moveTo(from, y + 11)
    .lineTo(x + widthOf(sheet), y + 11)
    .stroke();
  sheet.x = x;
  sheet.y = y + 22;
}

function drawLegend(sheet: Sheet, drawings: (Block & { kind: 'legend' })['drawings']): void {
  sheet.font(REGULAR).fontSize(SMALL);
  const left = sheet.x;
  let [x, y] = [left, sheet.y + 4];
  for (const [drawing, words] of drawings) {
    const width = 32 + sheet.widthOfString(words);
    if (x + width > left + widthOf(sheet)) [x, y] = [left, y + 14];
    drawDrawing(sheet, { x, y, width: 22, height: 8 }, drawing);
    sheet.text(words, x + 26, y - 1, { lineBreak: false });
    x += width + 10;
  }
  sheet.x = left;
  sheet.y = y + 16;
}

const widthOf = (sheet: Sheet): number => sheet.page.width - 2 * MARGIN;

/** A new page where less than so much is left of this one. */
function keepTogether(sheet: Sheet, height: number): void {
  if (sheet.y + height > sheet.page.height - MARGIN) sheet.addPage();
}

/** The foot of every page, below the margin. */
function foot(sheet: Sheet, { title, foot: words }: PrintedDocument): void {
  const { start, count } = sheet.bufferedPageRange();
  for (let page = start; page < start + count; page++) {
    sheet.switchToPage(page);
    const { height, margins } = sheet.page;
    margins.bottom = 0;
    const y = height - MARGIN + 14;
    const number = `page ${page + 1} of ${count}`;
    sheet.font(REGULAR).fontSize(SMALL);
    const right = MARGIN + widthOf(sheet) - sheet.widthOfString(number);
    sheet
      .lineWidth(0.4)
      .moveTo(MARGIN, y - 4)
      .lineTo(MARGIN + widthOf(sheet), y - 4)
      .stroke();
    sheet.text(`${words} · ${title}`, MARGIN, y, {
      width: right - MARGIN - 12,
      height: 12,
      lineBreak: true,
      ellipsis: true,
    });
    sheet.text(number, right, y, { lineBreak: false });
    margins.bottom = MARGIN;
  }
}
