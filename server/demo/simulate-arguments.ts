import { parseArgs } from 'node:util';
import { parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import type { Scenario } from '../../shared/building/plan.ts';
import { SCENARIOS } from '../../shared/building/scenarios/list.ts';

/** What `npm run simulate -- <scenario>` was asked to do, or what is wrong with it, in full. */
export interface SimulateArguments {
  readonly scenario: Scenario;
  readonly brokerUrl: string;
  readonly root: string;
  /** simulated seconds per second; Infinity: as fast as the broker takes it */
  readonly speed: number;
  readonly start: Instant;
  readonly seconds: number;
  /** added to the ids of the sites; empty: none */
  readonly suffix: string;
  /** where to put the documents of the sites; null: nowhere */
  readonly api: string | null;
  /** print the documents and stop */
  readonly documents: boolean;
}

export type ReadArguments =
  { readonly ok: true; readonly value: SimulateArguments } | { readonly ok: false; readonly help: string };

const OPTIONS = {
  broker: { type: 'string', default: 'mqtt://127.0.0.1:1883' },
  root: { type: 'string', default: 'holdoff' },
  speed: { type: 'string', default: '1' },
  start: { type: 'string' },
  hours: { type: 'string' },
  suffix: { type: 'string', default: '' },
  api: { type: 'string' },
  documents: { type: 'boolean', default: false },
  help: { type: 'boolean', default: false },
} as const;

export function readArguments(list: readonly string[], now: Instant): ReadArguments {
  try {
    const { values, positionals } = parseArgs({
      args: [...list],
      options: OPTIONS,
      allowPositionals: true,
      strict: true,
    });
    if (values.help || positionals.length === 0) return { ok: false, help: help() };
    const scenario = scenarioNamed(positionals);
    const speed = values.speed === 'max' ? Infinity : positive('--speed', values.speed);
    const seconds = values.hours === undefined ? scenario.seconds : positive('--hours', values.hours) * 3600;
    return {
      ok: true,
      value: {
        scenario,
        brokerUrl: brokerUrl(values.broker),
        root: values.root,
        speed,
        seconds,
        start: startAt(values.start, speed, seconds, now),
        suffix: suffixOf(values.suffix),
        api: values.api ?? null,
        documents: values.documents,
      },
    };
  } catch (error) {
    return { ok: false, help: `${error instanceof Error ? error.message : String(error)}\n\n${help()}` };
  }
}

function scenarioNamed(names: readonly string[]): Scenario {
  if (names.length > 1) throw new Error(`One scenario at a time, not ${names.join(' and ')}.`);
  const found = SCENARIOS.find(({ name }) => name === names[0]);
  if (!found) throw new Error(`There is no scenario "${names[0]}".`);
  return found;
}

function positive(option: string, text: string): number {
  const number = Number(text);
  if (!Number.isFinite(number) || number <= 0)
    throw new Error(`${option} takes a number above 0, not "${text}".`);
  return number;
}

function brokerUrl(text: string): string {
  if (!/^(mqtts?|wss?|tcp|ssl):\/\/./.test(text) || !URL.canParse(text))
    throw new Error(`--broker takes an address such as mqtt://127.0.0.1:1883, not "${text}".`);
  return text;
}

function suffixOf(text: string): string {
  if (!/^[a-z0-9-]{0,20}$/.test(text))
    throw new Error(`--suffix takes lower-case letters, digits and hyphens, not "${text}".`);
  return text === '' ? '' : `-${text}`;
}

/** At a walking pace it begins now; told as fast as it goes, it ends now. */
function startAt(text: string | undefined, speed: number, seconds: number, now: Instant): Instant {
  if (text === undefined) return speed === 1 ? now : now - seconds * SECOND;
  const instant = parseInstant(text);
  if (instant === null)
    throw new Error(`--start takes a time with its zone such as 2026-03-02T08:15:00Z, not "${text}".`);
  return instant;
}

function help(): string {
  const longest = Math.max(...SCENARIOS.map(({ name }) => name.length));
  return [
    'npm run simulate -- <scenario> [options]',
    '',
    'Scenarios:',
    ...SCENARIOS.map(({ name, summary }) => `  ${name.padEnd(longest)}  ${summary}`),
    '',
    'Options:',
    '  --broker <url>    broker to publish to (mqtt://127.0.0.1:1883)',
    '  --speed <n|max>   simulated seconds per second (1); max: as fast as the broker takes it',
    '  --start <time>    first instant, with its zone (now; with another speed: so that it ends now)',
    '  --hours <n>       how long (each scenario has its own length)',
    '  --suffix <text>   added to the ids of the sites, to keep them apart from others',
    '  --api <url>       put the documents of the sites there first (token from BOOTSTRAP_TOKEN)',
    '  --root <word>     first part of the topics (holdoff)',
    '  --documents       print the documents of the sites, and publish nothing',
  ].join('\n');
}
