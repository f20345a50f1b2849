/** What of the bench is asked for: by itself all that takes seconds; what takes minutes only when it is named. */
export const PARTS = [
  'fold',
  'stored',
  'page',
  'line',
  'share',
  'latency',
  'review',
  'year',
  'units',
  'disk',
  'voltage',
] as const;
export type Part = (typeof PARTS)[number];

const LONG: ReadonlySet<Part> = new Set(['latency', 'review', 'year', 'units', 'disk', 'voltage']);

const HELP = `npm run bench [-- part …]   parts: ${PARTS.join(', ')}
Without any: all but ${[...LONG].join(', ')}, which take some minutes each.`;

/** The parts named, or why not. */
export function partsOf(words: readonly string[]): ReadonlySet<Part> | string {
  if (words.length === 0) return new Set(PARTS.filter((part) => !LONG.has(part)));
  const unknown = words.filter((word) => !(PARTS as readonly string[]).includes(word));
  if (unknown.length > 0)
    return words.includes('--help') ? HELP : `no such part: ${unknown.join(', ')}\n${HELP}`;
  return new Set(words as Part[]);
}
