import { readFileSync } from 'node:fs';
import { join } from 'node:path';

const text = readFileSync(join(import.meta.dirname, '..', 'package.json'), 'utf8');

/** What package.json says. */
export const VERSION = (JSON.parse(text) as { version: string }).version;
