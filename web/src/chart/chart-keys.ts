/** The chart's keys, as a table: what each does, and the words that tell. */
export type ChartAct =
  | { readonly kind: 'pan'; readonly share: number }
  | { readonly kind: 'zoom'; readonly factor: number }
  | { readonly kind: 'cursor'; readonly pixels: number }
  | { readonly kind: 'edge'; readonly way: 1 | -1 }
  | { readonly kind: 'live' }
  | { readonly kind: 'hide' };

const KEYS: Readonly<Record<string, ChartAct>> = {
  ArrowLeft: { kind: 'cursor', pixels: -4 },
  ArrowRight: { kind: 'cursor', pixels: 4 },
  'Shift+ArrowLeft': { kind: 'pan', share: -0.25 },
  'Shift+ArrowRight': { kind: 'pan', share: 0.25 },
  PageUp: { kind: 'pan', share: -0.9 },
  PageDown: { kind: 'pan', share: 0.9 },
  '+': { kind: 'zoom', factor: 0.5 },
  '=': { kind: 'zoom', factor: 0.5 },
  '-': { kind: 'zoom', factor: 2 },
  ',': { kind: 'edge', way: -1 },
  '.': { kind: 'edge', way: 1 },
  End: { kind: 'live' },
  Escape: { kind: 'hide' },
};

/** of a keyboard event */
interface KeyPressed {
  readonly key: string;
  readonly shiftKey: boolean;
  readonly ctrlKey: boolean;
  readonly metaKey: boolean;
  readonly altKey: boolean;
}

export function chartKey(event: KeyPressed): ChartAct | null {
  if (event.ctrlKey || event.metaKey || event.altKey) return null;
  const arrow = event.key.startsWith('Arrow');
  return KEYS[event.shiftKey && arrow ? `Shift+${event.key}` : event.key] ?? null;
}

export const KEY_WORDS =
  'Left and right move the cursor, comma and full stop jump to the edge before and after, plus and minus zoom, ' +
  'Shift with left or right and Page up or down move through time, End goes to now, Escape hides the cursor.';
