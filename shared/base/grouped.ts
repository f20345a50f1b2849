/** What has the same key together, in the order that each key came first. */
export function groupedBy<T, K>(all: Iterable<T>, key: (one: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  for (const one of all) {
    const of = key(one);
    const group = groups.get(of);
    if (group) group.push(one);
    else groups.set(of, [one]);
  }
  return groups;
}
