import { sha256 } from '@noble/hashes/sha2.js';
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js';

/** The first 128 bits of SHA-256 over the parts, which can't run into each other, as 32 hexadecimal digits. */
export const digest = (...parts: readonly string[]): string =>
  bytesToHex(sha256(utf8ToBytes(JSON.stringify(parts)))).slice(0, 32);
