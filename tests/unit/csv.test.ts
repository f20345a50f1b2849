import { expect, test } from 'vitest';
import { csvOf } from '../../shared/wire/csv.ts';

/** RFC 4180 section 2. */
test('a table is written as lines that end with CR LF, its quotes doubled', () => {
  expect(
    csvOf(
      ['site', 'says'],
      [
        ['Oak Street, north', 'the "old" one'],
        ['b', null],
      ],
    ),
  ).toBe('site,says\r\n"Oak Street, north","the ""old"" one"\r\nb,\r\n');
  expect(csvOf(['a'], [['two\nlines']])).toBe('a\r\n"two\nlines"\r\n');
});

test('a name that a spreadsheet would take for a formula is text', () => {
  expect(
    csvOf(
      ['name', 'degrees'],
      [
        ['=1+2', -3.5],
        ['-12', 0],
      ],
    ),
  ).toBe("name,degrees\r\n'=1+2,-3.5\r\n-12,0\r\n");
});
