/** Dice without dice: the same seed, key and count give the same number, evenly spread over [0, 1). */
export function noise(seed: number, key: number, count: number): number {
  let h = (seed ^ Math.imul(key + 0x9e3779b9, 0x85ebca6b)) | 0;
  h = Math.imul(h ^ (h >>> 15) ^ (count | 0), 0x2c1b3c6d);
  h = Math.imul(h ^ (h >>> 12) ^ ((count / 4294967296) | 0), 0x297a2d39);
  h = Math.imul(h ^ (h >>> 15), 0x85ebca6b);
  return ((h ^ (h >>> 14)) >>> 0) / 4294967296;
}

/** A number for a name, so that every unit, panel and gateway has dice of its own. */
export function keyOf(name: string): number {
  let h = 2166136261;
  for (let i = 0; i < name.length; i++) h = Math.imul(h ^ name.charCodeAt(i), 16777619);
  return h >>> 0;
}

/** A line through numbers drawn at whole counts: smooth in between. */
export function drift(seed: number, key: number, at: number): number {
  const before = Math.floor(at);
  const share = at - before;
  return (1 - share) * noise(seed, key, before) + share * noise(seed, key, before + 1);
}
