import { hash, verify } from '@node-rs/argon2';
import { PASSWORD_LENGTHS } from '../../shared/wire/password-lengths.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';

/**
 * Passwords: how they are kept (argon2id, each with a salt of its own), compared, and what is refused as one. Length is
 * what counts, so nothing is asked of letters, digits or signs (NIST SP 800-63B 5.1.1.2, OWASP ASVS 5.0 6.2.5).
 */
const { argon2, hashesAtOnce, hashesWaiting } = ACCOUNT_BOUNDS;
const COSTS = {
  memoryCost: argon2.memoryKib,
  timeCost: argon2.passes,
  parallelism: argon2.lanes,
  algorithm: 2 as const, // argon2id: the package tells it as a const enum, which one file alone can't read
};

/** Too many passwords are being worked out: come again in a moment. */
export class TooBusy extends Error {}

let running = 0;
const waiting: (() => void)[] = [];

async function inTurn<T>(work: () => Promise<T>): Promise<T> {
  if (running >= hashesAtOnce) {
    if (waiting.length >= hashesWaiting) throw new TooBusy('too many passwords at once');
    await new Promise<void>((resolve) => waiting.push(resolve));
  } else running++;
  try {
    return await work();
  } finally {
    const next = waiting.shift();
    if (next) next();
    else running--;
  }
}

export const hashPassword = (password: string): Promise<string> =>
  inTurn(() => hash(normal(password), COSTS));

/** `kept` null: nobody is there, and it takes as long to say so. */
export async function isPassword(kept: string | null, given: string): Promise<boolean> {
  const against = kept ?? (await nobody());
  return (await inTurn(() => verify(against, normal(given)))) && kept !== null;
}

let nobodys: Promise<string> | null = null;
const nobody = (): Promise<string> => (nobodys ??= hashPassword('nobody has this password'));

/** One password, however a keyboard writes its letters (NIST SP 800-63B 5.1.1.2: NFKC or NFKD). */
const normal = (password: string): string => password.normalize('NFKC');

/** What is wrong with a password that somebody chooses, in words; null: nothing. */
export function passwordFault(
  password: string,
  person: { readonly name: string; readonly email: string },
): string | null {
  const { least, most } = PASSWORD_LENGTHS;
  const letters = [...normal(password)];
  if (letters.length < least)
    return `It has ${letters.length} characters: take ${least} or more. Four or five words that have nothing to do with each other are easy to keep.`;
  if (letters.length > most) return `It has ${letters.length} characters: take ${most} at most.`;
  if (new Set(letters).size < LEAST_DIFFERENT || isRow(letters))
    return 'It repeats itself or runs along the keyboard: others try that first.';
  const left = ownWords(person).reduce((text, word) => text.replaceAll(word, ''), password.toLowerCase());
  return left.length < LEAST_BESIDE_WORDS
    ? 'It is hardly more than your name, your address or words of this place: add words that have nothing to do with them.'
    : null;
}

const LEAST_DIFFERENT = 6;
const LEAST_BESIDE_WORDS = 8;

/** Words that somebody would try here first (OWASP ASVS 5.0 6.1.2, 6.2.11). */
const OF_THIS_PLACE = [
  'holdoff',
  'password',
  'passwort',
  'administrator',
  'admin',
  'engineer',
  'technician',
  'viewer',
];

const ownWords = ({ name, email }: { name: string; email: string }): string[] =>
  [...OF_THIS_PLACE, ...name.split(/\s+/), ...email.split(/[@.]/)]
    .map((word) => word.toLowerCase())
    .filter((word) => word.length > 2)
    .sort((a, b) => b.length - a.length);

const ROWS = [
  'abcdefghijklmnopqrstuvwxyz',
  '01234567890',
  'qwertyuiopasdfghjklzxcvbnm',
  'qwertzuiopasdfghjklyxcvbnm',
];

/** Most neighbours are neighbours in the alphabet, among the digits or on a keyboard, or a short piece comes again and again. */
function isRow(letters: readonly string[]): boolean {
  const text = letters.join('').toLowerCase();
  const pairs = letters.length - 1;
  const along = Array.from({ length: pairs }, (_, i) => text.slice(i, i + 2)).filter((pair) =>
    ROWS.some((row) => row.includes(pair) || row.includes([...pair].reverse().join(''))),
  ).length;
  const again = /^(.{1,6}?)\1+.{0,5}$/u.test(text);
  return along / pairs > 0.75 || again;
}
