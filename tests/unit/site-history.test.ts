import fc from 'fast-check';
import { expect, test } from 'vitest';
import { parseInstant } from '../../shared/base/instant.ts';
import { siteAt, type Site, type SiteHistory } from '../../shared/telemetry/site.ts';

/** a site that only its name tells apart */
const site = (name: string) => ({ id: 'school', name }) as Site;

const TUESDAY = parseInstant('2026-03-03T00:00:00-06:00')!;
const history: SiteHistory = [
  { from: -Infinity, site: site('always') },
  { from: TUESDAY, site: site('since Tuesday') },
];

test('a delay changed on Tuesday holds from Tuesday on, and Monday keeps its own', () => {
  expect(siteAt(history, TUESDAY - 1)?.name).toBe('always');
  expect(siteAt(history, TUESDAY)?.name).toBe('since Tuesday');
});

test('before the first document its own settings hold: there are no others', () => {
  expect(siteAt([{ from: TUESDAY, site: site('first') }], TUESDAY - 1)?.name).toBe('first');
});

test('a site without a document has no settings', () => {
  expect(siteAt([], TUESDAY)).toBeNull();
});

test('the settings at an instant are those of the latest document that is not after it', () => {
  fc.assert(
    fc.property(fc.uniqueArray(fc.nat(1000), { minLength: 1 }), fc.nat(1000), (froms, at) => {
      const sorted = froms.toSorted((a, b) => a - b);
      const dated = sorted.map((from) => ({ from, site: site(String(from)) }));
      const expected = sorted.filter((from) => from <= at).at(-1) ?? sorted[0];
      expect(siteAt(dated, at)?.name).toBe(String(expected));
    }),
  );
});
