import { describe, expect, test } from 'vitest';
import { readCsv } from '../../shared/edit/csv-rows.ts';
import { importSites } from '../../shared/edit/import-sites.ts';
import { TABLES, tableCsv } from '../../shared/edit/tables.ts';
import { copyOf, siteOf, slugOf, TEMPLATES, WIRINGS, type Wiring } from '../../shared/edit/templates.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { FLEET, fleetTables, PLANTED, planted } from '../fixtures/fleet-tables.ts';

/** Sites as tables: what people’s programs write, every fault by row and column, and back as it was. */
const none = () => null;

describe('CSV as it comes (RFC 4180 section 2, and what programs make of it)', () => {
  test.each([
    ['commas and CR LF', 'a,b\r\n1,"x,y"\r\n'],
    ['a byte order mark, semicolons', '\uFEFFa;b\n1;"x,y"\n'],
    ['tabs, no end of the last line', 'a\tb\r\n1\tx,y'],
    ['old line ends', 'a,b\r1,"x,y"\r'],
  ])('%s', (_, text) => {
    expect(readCsv(text)).toEqual({
      rows: [
        ['a', 'b'],
        ['1', 'x,y'],
      ],
      openQuote: null,
    });
  });

  test('quotes are doubled, a line may end inside them, and what our writer put before a formula is taken off', () => {
    expect(readCsv('name,says\n"the ""old"" one","two\r\nlines"\n\'=1+2,\n').rows).toEqual([
      ['name', 'says'],
      ['the "old" one', 'two\r\nlines'],
      ['=1+2', ''],
    ]);
  });

  test('a quote that is never closed is told by its row', () => {
    expect(readCsv('site\nrowan\n"elm').openQuote).toBe(3);
  });
});

const rowan: SiteDocument = siteOf(TEMPLATES[0]!, {
  name: 'Rowan',
  timeZone: 'America/Chicago',
  wiring: 'full',
});

test('what is written as tables is read back as it was', () => {
  const files = TABLES.map((table) => ({
    name: `${table.name}.csv`,
    text: tableCsv(table, [{ site: 'rowan', document: rowan }]),
  }));
  const read = importSites(files, none);
  expect(read.faults).toEqual([]);
  expect(read.sites).toMatchObject([{ site: 'rowan', isNew: true, document: rowan }]);
  expect(importSites(files, () => rowan).sites[0]!.document).toEqual(rowan);
});

test('a column that stands there sets its field, an empty cell takes it away, and what no row tells of stays', () => {
  const text = 'site;unit;role;protection.offDelay\nrowan;unit-1;;180\n';
  const read = importSites([{ name: 'units.csv', text }], () => rowan);
  expect(read.faults).toEqual([]);
  const { role: _, ...unit } = rowan.units![0]!;
  expect((read.sites[0]!.document as SiteDocument).units).toEqual([
    { ...unit, protection: { offDelay: 180 } },
    rowan.units![1],
  ]);
});

test('500 units with 20 planted faults: each is told by row, column and reason, and nothing else is', () => {
  const clean = importSites(fleetTables(), none);
  expect(clean.faults).toEqual([]);
  expect(clean.sites).toHaveLength(FLEET.sites);
  const units = clean.sites.flatMap(({ document }) => (document as SiteDocument).units ?? []);
  expect(units).toHaveLength(500);
  const { faults } = importSites(planted(), none);
  expect(faults.map(({ file, row, column }) => ({ file, row, column }))).toEqual(
    PLANTED.map(({ file, row, column }) => ({ file, row, column })),
  );
  faults.forEach(({ message }, i) => expect(message).toMatch(PLANTED[i]!.says));
});

describe('beginning a site', () => {
  const wirings = Object.keys(WIRINGS) as Wiring[];
  test.each(
    TEMPLATES.flatMap((template) => wirings.map((wiring) => [template.name, wiring, template] as const)),
  )('%s, %s, is a document without faults', (name, wiring, template) => {
    const document = siteOf(template, { name, timeZone: 'UTC', wiring });
    expect(parseConfiguration('new', document)).toMatchObject({ ok: true });
    expect(document.units).toHaveLength(template.units);
  });

  test('a copy keeps the wiring and leaves what belongs to one site alone', () => {
    const document: SiteDocument = {
      ...rowan,
      address: '1 Rowan Street',
      access: 'the key is under the mat',
      units: [
        {
          ...rowan.units![0]!,
          name: 'Rowan left',
          serial: 'A1',
          points: [{ signal: 'cooling-call', sparkplug: 'a/b/c/d' }],
        },
      ],
    };
    const copy = copyOf(document, 'Elm');
    expect(copy).toMatchObject({ name: 'Elm', panels: rowan.panels, spaces: rowan.spaces });
    expect(copy.units![0]).toMatchObject({
      id: 'unit-1',
      name: 'Elm left',
      points: [{ signal: 'cooling-call' }],
    });
    expect(JSON.stringify(copy)).not.toMatch(/mat|A1|Rowan|sparkplug/);
  });

  test('an id is made from a name', () => {
    expect(slugOf('Häarrow Lane School, north')).toBe('haarrow-lane-school-north');
  });
});
