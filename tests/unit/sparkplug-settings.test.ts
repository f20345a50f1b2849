import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { readIngestSettings } from '../../ingest/settings.ts';

const ROOT = join(import.meta.dirname, '..', '..');

// tck-id-operational-behavior-host-reordering-param
test('how long an early message is held, and the host’s name, are settings', () => {
  const settings = readIngestSettings({ SPARKPLUG_REORDER_SECONDS: '0.5', SPARKPLUG_HOST: 'north' }, 'data');
  expect(settings.sparkplug).toEqual({ hostId: 'north', reorderSeconds: 0.5 });
  expect(readIngestSettings({}, 'data').sparkplug).toEqual({ hostId: 'holdoff', reorderSeconds: 2 });
});

test.each([
  ['SPARKPLUG_HOST', 'a/b', /one level of a topic/],
  ['SPARKPLUG_REORDER_SECONDS', '0', /from 0.05 to 60/],
])('%s=%s is refused, with what to give', (name, value, says) => {
  expect(() => readIngestSettings({ [name]: value }, 'data')).toThrow(says);
});

test('every statement of the table is named in the test that shows it', () => {
  const table = readFileSync(join(ROOT, 'ingest/SPARKPLUG.md'), 'utf8');
  const rows = [...table.matchAll(/^\| (tck-id-[a-z0-9-]+) \| `([^`]+)` \|$/gm)];
  expect(rows.length).toBeGreaterThan(40);
  const notNamed = rows.filter(([, id, file]) => {
    const words: readonly string[] =
      readFileSync(join(ROOT, file!), 'utf8').match(/tck-id-[a-z0-9-]+/g) ?? [];
    return !words.includes(id!);
  });
  expect(notNamed.map(([, id]) => id)).toEqual([]);
});
