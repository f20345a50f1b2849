import type { Drawing } from '../../shared/wire/drawings.ts';
import { INK, type Sheet } from './sheet.ts';

export interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** A state in black alone: the same seven drawings as on the page. */
export function drawDrawing(sheet: Sheet, box: Box, drawing: Drawing): void {
  sheet.save();
  DRAW[drawing](sheet, box);
  sheet.restore();
}

const PITCH = 3.6;

const DRAW: Record<Drawing, (sheet: Sheet, box: Box) => void> = {
  running: (sheet, { x, y, width, height }) => {
    sheet.rect(x, y, width, height).clip();
    sheet.lineWidth(0.7);
    for (let down = 0.6; down < height; down += 1.7) sheet.moveTo(x, y + down).lineTo(x + width, y + down);
    sheet.stroke();
  },
  ready: (sheet, { x, y, width, height }) => {
    sheet
      .lineWidth(0.6)
      .moveTo(x, y + height)
      .lineTo(x + width, y + height)
      .stroke();
  },
  waiting: (sheet, box) => hatch(sheet, box, ['up']),
  'stopped-itself': (sheet, box) => {
    hatch(sheet, box, ['up', 'down']);
    sheet.lineWidth(0.5).rect(box.x, box.y, box.width, box.height).stroke();
  },
  latched: (sheet, { x, y, width, height }) => {
    sheet.rect(x, y, width, height).fill(INK);
    const notch = Math.min(height / 2, width / 2);
    sheet.polygon([x, y], [x + notch, y], [x, y + notch]).fill('#fff');
  },
  'no-power': (sheet, { x, y, width, height }) => {
    sheet.lineWidth(1.2).dash(1.4, { space: 2.6 });
    sheet
      .moveTo(x, y + height / 2)
      .lineTo(x + width, y + height / 2)
      .stroke()
      .undash();
  },
  'not-known': (sheet, { x, y, width, height }) => {
    sheet.rect(x, y, width, height).clip();
    for (let down = 1; down < height; down += 3)
      for (let along = 1; along < width; along += 3) sheet.rect(x + along, y + down, 0.8, 0.8);
    sheet.fill(INK);
  },
};

function hatch(sheet: Sheet, { x, y, width, height }: Box, ways: readonly ('up' | 'down')[]): void {
  sheet.rect(x, y, width, height).clip();
  sheet.lineWidth(0.55);
  for (const way of ways)
    for (let along = -height; along < width; along += PITCH) {
      const [from, to] = way === 'up' ? [y + height, y] : [y, y + height];
      sheet.moveTo(x + along, from).lineTo(x + along + height, to);
    }
  sheet.stroke();
}
