import { parseArgs } from 'node:util';
import type { ReplayAsk, ReplaySettings } from '../../shared/wire/replay-ask.ts';
import { ProtectionDocument } from '../../shared/wire/site-document.ts';

/** What `npm run replay -- …` was asked to do, or what is wrong with it, in full. */
export type ReadReplayArguments =
  | { readonly ok: true; readonly asked: ReplayAsk; readonly api: string }
  | { readonly ok: false; readonly help: string };

const OPTIONS = {
  site: { type: 'string' },
  from: { type: 'string' },
  to: { type: 'string' },
  unit: { type: 'string', multiple: true },
  set: { type: 'string', multiple: true },
  'timer-error': { type: 'string' },
  api: { type: 'string', default: 'http://127.0.0.1:8080' },
  help: { type: 'boolean', default: false },
} as const;

export function readReplayArguments(list: readonly string[]): ReadReplayArguments {
  try {
    const { values } = parseArgs({ args: [...list], options: OPTIONS, strict: true });
    if (values.help) return { ok: false, help: HELP };
    const { site, from, to, unit = [], set = [] } = values;
    if (site === undefined || from === undefined || to === undefined)
      throw new Error('--site, --from and --to are needed.');
    if (!URL.canParse(values.api)) throw new Error(`--api takes an address, not "${values.api}".`);
    const asked = {
      site,
      from,
      to,
      ...(unit.length > 0 ? { units: unit } : {}),
      ...(set.length > 0 ? { settings: settingsOf(set) } : {}),
      ...timerErrorOf(values['timer-error']),
    };
    return { ok: true, asked, api: values.api };
  } catch (error) {
    return { ok: false, help: `${error instanceof Error ? error.message : String(error)}\n\n${HELP}` };
  }
}

const HELP = `npm run replay -- --site <site> --from <instant> --to <instant> [options]

Asks a running server to run a stretch of history again under other settings, and prints what would have been
otherwise. Nothing stored changes. Instants are ISO 8601 with their zone, as 2026-03-03T14:00:00-06:00.

  --set <device>.<setting>=<value>  another setting, as in the site's document; as often as needed:
                                    unit-2.offDelay=240  panel-a.minimumStartSeparation=3
                                    room-1.temperature=28  room-1.unitsNeeded=2
  --unit <unit>                     run this unit through the control; left out: those with other settings, else all
  --timer-error <share>             timers may be off by this share, as 0.01
  --api <address>                   the server (http://127.0.0.1:8080); BOOTSTRAP_TOKEN is sent where it is set`;

function timerErrorOf(text: string | undefined): { timerError?: number } {
  if (text === undefined) return {};
  const share = Number(text);
  if (!(share >= 0 && share <= 0.2))
    throw new Error(`--timer-error takes a share from 0 to 0.2, not "${text}".`);
  return { timerError: share };
}

type Parts = Record<'units' | 'panels' | 'spaces', Map<string, Record<string, unknown>>>;

function settingsOf(list: readonly string[]): ReplaySettings {
  const parts: Parts = { units: new Map(), panels: new Map(), spaces: new Map() };
  for (const one of list) put(parts, one);
  const given = Object.entries(parts).filter(([, devices]) => devices.size > 0);
  return Object.fromEntries(given.map(([list, devices]) => [list, [...devices.values()]])) as ReplaySettings;
}

function put(parts: Parts, one: string): void {
  const [, device, name, text] = /^([a-z0-9][a-z0-9-]*)\.(\w+)=(.+)$/.exec(one) ?? [];
  if (device === undefined || name === undefined || text === undefined)
    throw new Error(`--set takes <device>.<setting>=<value>, as unit-2.offDelay=240, not "${one}".`);
  const value = text === 'null' ? null : Number.isFinite(Number(text)) ? Number(text) : text;
  const within = (list: keyof Parts, path: string | null): void => {
    const part = parts[list].get(device) ?? { id: device };
    const of = path === null ? part : ((part[path] ??= {}) as Record<string, unknown>);
    of[name] = value;
    parts[list].set(device, part);
  };
  if (name in ProtectionDocument.properties) return within('units', 'protection');
  if (name === 'minimumStartSeparation') return within('panels', null);
  if (name === 'temperature') return within('spaces', 'limits');
  if (name === 'unitsNeeded') return within('spaces', null);
  const known = [
    ...Object.keys(ProtectionDocument.properties),
    'minimumStartSeparation',
    'temperature',
    'unitsNeeded',
  ];
  throw new Error(`There is no setting "${name}" that a replay can change: give one of ${known.join(', ')}.`);
}
