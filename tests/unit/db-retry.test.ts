import { expect, test } from 'vitest';
import { retryDelay, retryReason } from '../../db/sqlstate.ts';

const error = (code: string | undefined, message = 'x') => Object.assign(new Error(message), { code });

/** PostgreSQL documentation, appendix A: error codes. */
test.each([
  ['40001', 'conflict'],
  ['40P01', 'conflict'],
  ['08006', 'connection'],
  ['57P01', 'connection'],
  ['57P03', 'starting'],
  ['53300', 'busy'],
  ['57014', 'busy'],
  ['53100', 'storage'],
  ['53200', 'storage'],
  ['58030', 'storage'],
  ['ECONNREFUSED', 'connection'],
  ['23505', null],
  ['22P02', null],
  ['42P01', null],
  ['P0001', null],
])('%s is tried again because: %s', (code, reason) => {
  expect(retryReason(error(code))).toBe(reason);
});

test('a lost connection is known by what pg says of it, anything else without a code is our own fault', () => {
  expect(retryReason(error(undefined, 'Connection terminated unexpectedly'))).toBe('connection');
  expect(retryReason(error(undefined, 'Cannot read properties of undefined'))).toBe(null);
  expect(retryReason('text')).toBe(null);
});

test('the wait doubles up to 2 s, and half of it is random', () => {
  expect([0, 1, 2, 3].map((attempt) => retryDelay(attempt, 1))).toEqual([10, 20, 40, 80]);
  expect(retryDelay(50, 0)).toBe(1_000);
  expect(retryDelay(50, 1)).toBe(2_000);
});
