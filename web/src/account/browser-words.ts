/** A browser's own long name, as one would say it: enough to tell a phone from a desk. */
const BROWSERS: readonly (readonly [RegExp, string])[] = [
  [/Edg(e|A|iOS)?\//, 'Edge'],
  [/Firefox\/|FxiOS\//, 'Firefox'],
  [/SamsungBrowser\//, 'Samsung Internet'],
  [/Chrom(e|ium)\/|CriOS\//, 'Chrome'],
  [/Safari\//, 'Safari'],
];
const MACHINES: readonly (readonly [RegExp, string])[] = [
  [/iPhone/, 'an iPhone'],
  [/iPad/, 'an iPad'],
  [/Android/, 'Android'],
  [/Windows/, 'Windows'],
  [/Macintosh/, 'a Mac'],
  [/Linux|X11/, 'Linux'],
];

export function browserWords(text: string): string {
  const found = (table: typeof BROWSERS) => table.find(([pattern]) => pattern.test(text))?.[1];
  const [browser, machine] = [found(BROWSERS), found(MACHINES)];
  if (!browser) return text === '' ? 'A program without a name' : text.slice(0, 60);
  return machine ? `${browser} on ${machine}` : browser;
}
