import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { EVENT_CAUSES } from '../../shared/inference/event.ts';

/** Of which nothing is inferred yet: no story can be told. */
const NOT_YET: readonly string[] = [];

test('each kind of event that is inferred has a story', () => {
  const folder = import.meta.dirname;
  const stories = readdirSync(folder)
    .filter((name) => name.endsWith('.test.ts') && name !== 'every-kind.test.ts')
    .map((name) => readFileSync(join(folder, name), 'utf8'))
    .join('\n');
  const untold = Object.keys(EVENT_CAUSES).filter(
    (kind) => !NOT_YET.includes(kind) && !new RegExp(`['\` ]${kind} `).test(stories),
  );
  // a disagreement's story tells its way instead of its kind
  expect(untold.filter((kind) => kind !== 'control-disagrees')).toEqual([]);
});
