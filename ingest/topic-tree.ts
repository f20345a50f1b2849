/**
 * What listens to which topics: filters with wildcards (MQTT 5 section 4.7) as a tree of levels, so that a topic finds
 * what it concerns in as many steps as it has levels, however many filters there are.
 */
export class TopicTree<T> {
  readonly #root: Level<T> = newLevel();

  add(filter: string, value: T): void {
    let level = this.#root;
    for (const word of filter.split('/')) {
      let next = level.below.get(word);
      if (!next) level.below.set(word, (next = newLevel()));
      level = next;
    }
    level.values.push(value);
  }

  /** Everything whose filter takes the topic; wildcards don't take a first level that begins with "$". */
  match(topic: string): T[] {
    if (this.#root.below.size === 0 || topic.startsWith('$')) return [];
    let levels = [this.#root];
    const found: T[] = [];
    for (const word of topic.split('/')) {
      const next: Level<T>[] = [];
      for (const { below } of levels) {
        found.push(...(below.get('#')?.values ?? []));
        for (const level of [below.get(word), below.get('+')]) if (level) next.push(level);
      }
      if (next.length === 0) return found;
      levels = next;
    }
    for (const { values, below } of levels) found.push(...values, ...(below.get('#')?.values ?? []));
    return found;
  }
}

interface Level<T> {
  readonly below: Map<string, Level<T>>;
  readonly values: T[];
}

const newLevel = <T>(): Level<T> => ({ below: new Map(), values: [] });
