import type { Mark } from './marks.ts';
import { x, type TimeWindow } from './window.ts';

/**
 * Where labels go above a lane: like an engineering drawing's dimension lines, centred between their arrows; where
 * there is no room between, beside them; where there is none at all, not written (the event list has it). The abnormal
 * come first. All in px.
 */
export interface Dimension {
  readonly id: string;
  readonly from: number;
  readonly to: number;
  /** left edge of the text */
  readonly text: number;
  readonly label: string;
  readonly arrows: 'inward' | 'outward' | 'none';
}

/** Width of a 13 px figure or letter on the average; labels are short. */
const LETTER = 7.3;
const ARROW = 9;
const GAP = 6;
const RANK: Record<Mark['drawing'], number> = {
  latched: 0,
  'no-power': 1,
  'stopped-itself': 1,
  shaded: 2,
  caret: 3,
  length: 3,
  waiting: 3,
};

const textWidth = (text: string): number => text.length * LETTER;

export function dimensions(
  marks: readonly Mark[],
  window: TimeWindow,
  width: number,
  now: number,
): Dimension[] {
  const taken: [number, number][] = [];
  const free = (from: number, to: number) =>
    from >= 0 && to <= width && taken.every(([left, right]) => to <= left || from >= right);
  return marks
    .filter((mark) => mark.drawing !== 'latched' && mark.drawing !== 'no-power' && mark.drawing !== 'shaded')
    .toSorted((a, b) => RANK[a.drawing] - RANK[b.drawing])
    .flatMap((mark) => {
      const found = placed(mark, window, width, now, free);
      if (found)
        taken.push([
          Math.min(found.from, found.text - GAP),
          Math.max(found.to, found.text + textWidth(found.label) + GAP),
        ]);
      return found ? [found] : [];
    });
}

function placed(
  mark: Mark,
  window: TimeWindow,
  width: number,
  now: number,
  free: (from: number, to: number) => boolean,
): Dimension | null {
  const from = x(mark.start.latest, window, width);
  const to = x(mark.end?.earliest ?? now, window, width);
  if (to < 0 || from > width || to - from > width * 3) return null;
  const base = { id: mark.id, from, to };
  const [left, right] = [Math.max(0, from), Math.min(width, to)];
  if (mark.drawing === 'caret') {
    const text = textWidth(mark.label);
    const start = [from + 8, from - 8 - text].find((at) => at >= 0 && free(at, at + text));
    return start === undefined
      ? null
      : { ...base, label: mark.label, from: start, to: start, text: start, arrows: 'none' };
  }
  // an ordinary delay is dimensioned where there is ample room: a chart of many runs stays quiet
  const least = 2 * ARROW + (mark.drawing === 'waiting' ? 22 : 4);
  const between = [mark.label, mark.short].find(
    (label) => label !== '' && right - left >= Math.max(textWidth(label) + 4, least),
  );
  const words = mark.drawing !== 'waiting' && between === mark.short ? mark.label : between;
  if (words !== undefined && words === between && free(left, right))
    return { ...base, label: words, text: (left + right - textWidth(words)) / 2, arrows: 'inward' };
  const beside = to + ARROW + 4;
  if (mark.drawing !== 'waiting' && to - from >= 3 && free(from, beside + textWidth(mark.label)))
    return { ...base, label: mark.label, text: beside, arrows: 'outward' };
  return between !== undefined && free(left, right)
    ? { ...base, label: between, text: (left + right - textWidth(between)) / 2, arrows: 'inward' }
    : null;
}

/** A note inside a lane after a mark: only where it fits before `limit`. */
export const noteFits = (text: string, from: number, limit: number): boolean =>
  from >= 0 && from + textWidth(text) <= limit;
