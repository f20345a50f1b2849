/** What is wrong with a topic filter (MQTT 5 section 4.7) as a source of a point, as a sentence; null: nothing is. */
export function topicFilterFault(filter: string): string | null {
  const levels = filter.split('/');
  const first = levels[0]!;
  if (filter === '' || filter.includes('\u0000')) return 'Give a topic, as "plant/7/inputs".';
  if (levels.some((level, i) => level.includes('#') && (level !== '#' || i < levels.length - 1)))
    return '"#" stands for the rest of a topic: it must be the last level, alone.';
  if (levels.some((level) => level.includes('+') && level !== '+'))
    return '"+" stands for one whole level: put nothing beside it, as in "plant/+/inputs".';
  if (first === '+' || first === '#')
    return 'Name the first level of the topic: a filter that begins with a wildcard listens to everything.';
  if (first.startsWith('$')) return 'Topics that begin with "$" are the broker’s own: give another.';
  if (first === 'spBv1.0') return 'A Sparkplug metric is named by "sparkplug", not by its topic.';
  return null;
}

/** Is there a topic that both filters take. */
export function filtersOverlap(a: string, b: string): boolean {
  return overlapFrom(a.split('/'), b.split('/'));
}

function overlapFrom(a: readonly string[], b: readonly string[]): boolean {
  const most = Math.max(a.length, b.length);
  for (let i = 0; i < most; i++) {
    if (a[i] === '#' || b[i] === '#') return true; // "x/#" takes "x" itself too (section 4.7.1.2)
    if (a[i] === undefined || b[i] === undefined) return false;
    if (a[i] !== '+' && b[i] !== '+' && a[i] !== b[i]) return false;
  }
  return true;
}

/** Does the filter take the topic. A wildcard at its beginning takes none that begins with "$" (MQTT 3.1.1 section 4.7.2). */
export const filterTakes = (filter: string, topic: string): boolean =>
  !/^[+#]/.test(filter) || !topic.startsWith('$') ? filterCovers(filter, topic) : false;

/** Does `wide` take every topic that `narrow` takes. */
export function filterCovers(wide: string, narrow: string): boolean {
  const [w, n] = [wide.split('/'), narrow.split('/')];
  for (let i = 0; i < w.length; i++) {
    if (w[i] === '#') return true;
    if (n[i] === undefined || n[i] === '#') return false;
    if (w[i] !== '+' && w[i] !== n[i]) return false;
  }
  return w.length === n.length;
}
