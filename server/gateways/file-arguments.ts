import { parseArgs } from 'node:util';

/** What `npm run mosquitto` was asked to do, or what is wrong with it, in full. */
export type FileArguments =
  | {
      readonly ok: true;
      readonly api: string;
      readonly folder: string;
      readonly ingestUser: string;
      /** of the process that is to read them anew (SIGHUP); null: whoever asked sees to it */
      readonly pidFile: string | null;
      /** null: once */
      readonly everySeconds: number | null;
    }
  | { readonly ok: false; readonly help: string };

const text = { type: 'string' } as const;

export function readFileArguments(list: readonly string[]): FileArguments {
  try {
    const options = {
      ...{ to: text, 'pid-file': text, every: text },
      'ingest-user': { ...text, default: 'holdoff-ingest' },
      api: { ...text, default: 'http://127.0.0.1:8080' },
      help: { type: 'boolean', default: false },
    } as const;
    const { values } = parseArgs({ args: [...list], options, strict: true });
    if (values.help) return { ok: false, help: HELP };
    if (values.to === undefined) throw new Error('--to is needed: the folder that Mosquitto reads.');
    if (!URL.canParse(values.api)) throw new Error(`--api takes an address, not "${values.api}".`);
    const every = values.every === undefined ? null : Number(values.every);
    if (every !== null && !(every >= 1 && every <= 86_400))
      throw new Error('--every takes seconds, from 1 to 86400.');
    return {
      ok: true,
      api: values.api,
      folder: values.to,
      ingestUser: values['ingest-user'],
      pidFile: values['pid-file'] ?? null,
      everySeconds: every,
    };
  } catch (error) {
    return { ok: false, help: `${(error as Error).message}\n\n${HELP}` };
  }
}

const HELP = `npm run mosquitto -- --to <folder> [options]

Writes what a Mosquitto needs to let in the gateways that were set up here, and nobody else:
  <folder>/passwords          for password_file
  <folder>/access             for acl_file
  <folder>/certificates.pem   for cafile, where the gateways' certificates sign themselves

  --ingest-user <name>   whom ingest connects as (holdoff-ingest); its password is made the first time, and told once
  --pid-file <file>      Mosquitto's pid_file: it is told to read the files anew (SIGHUP) when they have changed
  --every <seconds>      goes on, and looks again each time: what is revoked is refused that much later at most
  --api <address>        the server (http://127.0.0.1:8080); BOOTSTRAP_TOKEN is sent where it is set
`;
