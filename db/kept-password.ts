import { pbkdf2, randomBytes, timingSafeEqual } from 'node:crypto';
import { promisify } from 'node:util';

/**
 * How a gateway's password is kept: PBKDF2-SHA512 as `$7$<rounds>$<salt>$<hash>`, the form that Mosquitto's password file has
 * (mosquitto_passwd), so that one row serves the embedded broker and Mosquitto. Few rounds are enough and let a thousand
 * gateways come back at once: these passwords are made by us, of 160 random bits, and can't be guessed at any speed.
 */
const ROUNDS = 101; // as mosquitto_passwd takes by default
const SALT_BYTES = 12;
const HASH_BYTES = 64;
const PASSWORD_BYTES = 20;

const derive = promisify(pbkdf2);

/** 160 random bits, in letters, digits, "-" and "_". */
export const newPassword = (): string => randomBytes(PASSWORD_BYTES).toString('base64url');

export async function keptPassword(password: string): Promise<string> {
  const salt = randomBytes(SALT_BYTES);
  const hash = await derive(password, salt, ROUNDS, HASH_BYTES, 'sha512');
  return `$7$${ROUNDS}$${salt.toString('base64')}$${hash.toString('base64')}`;
}

/** Compares in a time that tells nothing. `kept` null: nobody is there, and it takes as long to say so. */
export async function isKeptPassword(kept: string | null, given: Buffer): Promise<boolean> {
  const [, form, rounds, salt, hash] = (kept ?? NOBODY).split('$');
  if (form !== '7') return false;
  const against = Buffer.from(hash ?? '', 'base64');
  const found = await derive(given, Buffer.from(salt ?? '', 'base64'), Number(rounds), HASH_BYTES, 'sha512');
  return against.length === found.length && timingSafeEqual(against, found) && kept !== null;
}

const NOBODY = `$7$${ROUNDS}$${Buffer.alloc(SALT_BYTES).toString('base64')}$${Buffer.alloc(HASH_BYTES).toString('base64')}`;
