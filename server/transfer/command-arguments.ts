import { parseArgs } from 'node:util';
import { EXPORT_FORMATS, type Exported, type ExportFormat } from '../../shared/wire/export-rows.ts';

/** What `npm run export` and `npm run import` were asked to do, or what is wrong with it, in full. */
type Read<A> = ({ readonly ok: true } & A) | { readonly ok: false; readonly help: string };

export interface ExportArguments {
  readonly api: string;
  /** of the question, with its query */
  readonly path: string;
  /** null: to standard output */
  readonly file: string | null;
}

const API = { type: 'string', default: 'http://127.0.0.1:8080' } as const;
const text = { type: 'string' } as const;
const flag = { type: 'boolean', default: false } as const;

export const readExportArguments = (list: readonly string[]): Read<ExportArguments> =>
  readOrHelp(EXPORT_HELP, () => {
    const options = {
      ...{ site: text, from: text, to: text, device: text, signal: text, out: text, format: text },
      ...{ events: flag, intervals: flag, waveforms: flag, api: API, help: flag },
    } as const;
    const { values } = parseArgs({ args: [...list], options, strict: true });
    if (values.help) return null;
    const { site, from, to, device, signal, out, events, intervals, waveforms, api } = values;
    if (site === undefined) throw new Error('--site is needed.');
    if (events && (device ?? signal) !== undefined)
      throw new Error('--device and --signal choose samples; events go by site and time alone.');
    if (Number(events) + Number(intervals) + Number(waveforms) > 1)
      throw new Error('One file holds one thing: give --events, --intervals or --waveforms.');
    const holds: Exported = events ? 'events' : intervals ? 'intervals' : waveforms ? 'waveforms' : 'samples';
    const format = formatOf(values.format, out);
    const asked = Object.entries({ site, device, signal, from, to, format }).filter(
      ([, one]) => one !== undefined,
    );
    const path = `/api/export/${holds}?${new URLSearchParams(asked as [string, string][]).toString()}`;
    return { api: addressOf(api), path, file: out ?? null };
  });

function formatOf(given: string | undefined, file: string | undefined): ExportFormat {
  const name = given ?? (file?.endsWith('.csv') ? 'csv' : 'ndjson');
  const format = EXPORT_FORMATS.find((one) => one === name);
  if (format) return format;
  throw new Error(`--format takes ${EXPORT_FORMATS.join(' or ')}, not "${name}".`);
}

export interface ImportArguments {
  readonly api: string;
  readonly file: string;
  readonly dryRun: boolean;
}

export const readImportArguments = (list: readonly string[]): Read<ImportArguments> =>
  readOrHelp(IMPORT_HELP, () => {
    const options = { 'dry-run': flag, api: API, help: flag } as const;
    const { values, positionals } = parseArgs({
      args: [...list],
      options,
      strict: true,
      allowPositionals: true,
    });
    if (values.help) return null;
    const [file, ...more] = positionals;
    if (file === undefined || more.length > 0) throw new Error('One file is needed.');
    return { api: addressOf(values.api), file, dryRun: values['dry-run'] };
  });

function addressOf(api: string): string {
  if (URL.canParse(api)) return api;
  throw new Error(`--api takes an address, not "${api}".`);
}

function readOrHelp<A>(help: string, read: () => A | null): Read<A> {
  try {
    const asked = read();
    return asked === null ? { ok: false, help } : { ok: true, ...asked };
  } catch (error) {
    return { ok: false, help: `${error instanceof Error ? error.message : String(error)}\n\n${help}` };
  }
}

const EXPORT_HELP = `npm run export -- --site <site> [--from <instant>] [--to <instant>] [options]

Asks a running server for a site's samples as they came (raw, with their quality), or its events, and writes them
to a file. Instants are ISO 8601 with their zone, as 2026-03-03T14:00:00-06:00; left out: everything.

  --events             events, not samples
  --intervals          what meters saw between two times
  --waveforms          waveforms, with all their values
  --device <device>    samples (intervals, waveforms) of this unit, panel, space or gateway alone
  --signal <signal>    the same of this signal alone
  --format csv|ndjson  left out: by the ending of the file, else ndjson
  --out <file>         left out: to standard output
  --api <address>      the server (http://127.0.0.1:8080); BOOTSTRAP_TOKEN is sent where it is set`;

const IMPORT_HELP = `npm run import -- <file> [options]

Takes a file of samples, intervals or waveforms that came out by export (CSV or NDJSON) into a running server, for the sites that are named in it
and configured there. Twice is the same as once. Lines that can't be taken are set aside in a file beside it, the
others are taken. A file of events (NDJSON) is compared with what inference says there now: events follow from samples
and are never taken in.

  --dry-run        take nothing and list every line that couldn't be taken, with what to do
  --api <address>  the server (http://127.0.0.1:8080); BOOTSTRAP_TOKEN is sent where it is set`;
