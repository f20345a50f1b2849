/** Do two plain values (as JSON has them) say the same, whatever the order of their keys? */
export function same(a: unknown, b: unknown): boolean {
  if (Object.is(a, b)) return true;
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return false;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  const keys = new Set([...Object.keys(a), ...Object.keys(b)]);
  return [...keys].every((key) => same((a as Keyed)[key], (b as Keyed)[key]));
}

type Keyed = Readonly<Record<string, unknown>>;
