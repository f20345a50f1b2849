import { parseArgs } from 'node:util';
import { HAPPENINGS } from './happenings.ts';
import { SETUPS, type Row } from './setups.ts';

/** What of the scoring bench to run. Texts are parts of names, in any case. */
export interface Options {
  readonly rows: readonly Row[];
  /** of each row's histories, or this many, or this seed alone */
  readonly share: number;
  readonly histories: number | null;
  readonly seed: number | null;
  /** only what befalls a unit by these names, with ordinary calls between; null: everything */
  readonly faults: readonly string[] | null;
  /** only examples whose line holds this */
  readonly example: string;
  readonly examples: number;
  /** processes to share the work */
  readonly jobs: number;
  /** everything at its full size: the page beside the bench is written */
  readonly isWhole: boolean;
  /** write the page here instead */
  readonly page: string | null;
}

export const USAGE = `npm run score -- [options]
  --wiring TEXT      only rows whose wiring has TEXT in its name   (--wiring "no call")
  --mode TEXT        only rows whose reporting has TEXT            (--mode "polled 10 s")
  --fault TEXT       only what befalls a unit with TEXT in its name, ordinary calls between; may be given again
  --share X          this part of each row's histories             (--share 0.05)
  --histories N      so many histories of each row
  --seed N           this one history of each row
  --examples N       show so many of what was falsely certain, missed or outside its interval (default 5)
  --example TEXT     only examples whose line holds TEXT           (--example "false lockout-reset")
  --jobs N           in so many processes (default 1)
  --page FILE        write the page to FILE
  --list             the names of wirings, modes and faults
Without options everything runs at its full size and tests/score/SCORE.md is written.`;

const OPTIONS = {
  wiring: { type: 'string', default: '' },
  mode: { type: 'string', default: '' },
  fault: { type: 'string', multiple: true },
  share: { type: 'string' },
  histories: { type: 'string' },
  seed: { type: 'string' },
  examples: { type: 'string', default: '5' },
  example: { type: 'string', default: '' },
  jobs: { type: 'string', default: '1' },
  page: { type: 'string' },
  list: { type: 'boolean', default: false },
  help: { type: 'boolean', default: false },
} as const;

/** What was asked for, or the text to show instead. */
export function optionsOf(args: readonly string[]): Options | string {
  const { values } = parseArgs({ args: [...args], options: OPTIONS });
  if (values.help) return USAGE;
  if (values.list) return listing();
  const rows = SETUPS.filter((row) => has(row.wiring, values.wiring) && has(row.mode, values.mode));
  if (rows.length === 0) return `no row has that wiring and mode\n\n${listing()}`;
  const faults = values.fault ? faultsLike(values.fault) : null;
  if (faults?.length === 0) return `no fault has that in its name\n\n${listing()}`;
  const few = [values.share, values.histories, values.seed, values.fault].some((one) => one !== undefined);
  return {
    rows,
    share: Number(values.share ?? 1),
    histories: values.histories === undefined ? null : Number(values.histories),
    seed: values.seed === undefined ? null : Number(values.seed),
    faults,
    example: values.example,
    examples: Number(values.examples),
    jobs: Number(values.jobs),
    isWhole: !few && rows.length === SETUPS.length,
    page: values.page ?? null,
  };
}

const has = (name: string, part: string): boolean => name.toLowerCase().includes(part.toLowerCase());

const faultsLike = (parts: readonly string[]): string[] =>
  Object.keys(HAPPENINGS).filter((name) => parts.some((part) => has(name, part)));

function listing(): string {
  const names = (title: string, all: readonly string[]) =>
    `${title}:\n${[...new Set(all)].map((name) => `  ${name}`).join('\n')}`;
  return [
    names(
      'wirings',
      SETUPS.map(({ wiring }) => wiring),
    ),
    names(
      'modes',
      SETUPS.map(({ mode }) => mode),
    ),
    names('faults', Object.keys(HAPPENINGS)),
  ].join('\n');
}
