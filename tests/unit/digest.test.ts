import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { digest } from '../../shared/base/digest.ts';

test('a digest is the beginning of the SHA-256 of its parts as JSON, by another implementation', () => {
  fc.assert(
    fc.property(fc.array(fc.string({ unit: 'grapheme' })), (parts) => {
      const other = createHash('sha256').update(JSON.stringify(parts)).digest('hex').slice(0, 32);
      expect(digest(...parts)).toBe(other);
    }),
  );
});

test('parts can not run into each other', () => {
  expect(digest('school', 'unit-1')).not.toBe(digest('schoolunit', '-1'));
  expect(digest('school', '')).not.toBe(digest('school'));
  expect(digest('a","b')).not.toBe(digest('a', 'b'));
});
