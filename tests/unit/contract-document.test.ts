import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { EVENT_CAUSES } from '../../shared/inference/event.ts';
import { SIGNALS, signalRow, type SignalName } from '../../shared/telemetry/signals.ts';
import {
  GatewayDocument,
  PanelDocument,
  PointDocument,
  ProtectionDocument,
  SiteDocument,
  SpaceDocument,
  UnitDocument,
} from '../../shared/wire/site-document.ts';
import { PROBLEMS } from '../../shared/wire/problem.ts';

/** The reference documentation and the code say the same, in both directions. */
const contract = readFileSync('server/CONTRACT.md', 'utf8');

/** rows of the first table under a heading, as cells */
function table(heading: string, document = contract): string[][] {
  const under = document.split(new RegExp(`^#+ ${heading}$`, 'm'))[1]!;
  const rows = /(^\|.*\|$\n?)+/m.exec(under)![0].trim().split('\n').slice(2);
  return rows.map((row) =>
    row
      .split('|')
      .slice(1, -1)
      .map((cell) => cell.trim()),
  );
}

const words = (cell: string): string[] => [...cell.matchAll(/`([^`]+)`/g)].map((match) => match[1]!);

describe('server/CONTRACT.md', () => {
  test('lists every signal, with its kind and where it may be', () => {
    const rows = table('Signals').flatMap(([names, on, kind]) =>
      words(names!).map((name) => ({ name, on, kind })),
    );
    expect(rows.map(({ name }) => name)).toEqual(Object.keys(SIGNALS));
    for (const { name, on, kind } of rows) {
      const row = signalRow(name as SignalName);
      expect(kind, name).toBe(row.kind);
      expect(on!.replace(/ with.*/, '').split(/, (?:or )?/), name).toEqual(row.on);
    }
  });

  test('lists every kind of event with its causes', () => {
    const rows = table('Events out').flatMap(([kinds, causes]) =>
      words(kinds!).map((kind) => [kind, words(causes!)]),
    );
    expect(Object.fromEntries(rows)).toEqual(EVENT_CAUSES);
  });

  test('lists every field of the configuration', () => {
    const schemas = {
      site: SiteDocument,
      gateway: GatewayDocument,
      space: SpaceDocument,
      panel: PanelDocument,
      unit: UnitDocument,
      protection: ProtectionDocument,
      point: PointDocument,
    };
    const rows = Object.fromEntries(table('Configuration').map(([part, fields]) => [part, words(fields!)]));
    for (const [part, schema] of Object.entries(schemas)) {
      const named = rows[part]!.map((word: string) => word.replace(/\..*/, ''));
      for (const field of Object.keys(schema.properties)) expect(named, part).toContain(field);
    }
  });

  test('names every variable of the environment that is read, and no other', () => {
    const named = [...contract.matchAll(/`([A-Z][A-Z_]+)`/g)].map((match) => match[1]!);
    const files = [
      'server/settings.ts',
      'server/notify/settings.ts',
      'server/watcher/settings.ts',
      'server/sounder/settings.ts',
      'server/retention/settings.ts',
      'ingest/settings.ts',
      'ingest/main.ts',
    ];
    const read = files
      .map((file) => readFileSync(file, 'utf8'))
      .flatMap((text) => [
        ...text.matchAll(/(?:given\(|environment, |environment\[|process\.env\[)'([A-Z_]+)'/g),
      ])
      .map((match) => match[1]!);
    expect(new Set(named.filter((name) => name !== 'PUT'))).toEqual(new Set(read));
  });
});

test('DEVELOPERS.md describes every problem code, with its status, and no other', () => {
  const rows = table('Problems', readFileSync('DEVELOPERS.md', 'utf8'));
  const described = rows.map(([code, status]) => [words(code!)[0], Number(status)]);
  expect(Object.fromEntries(described)).toEqual(
    Object.fromEntries(Object.entries(PROBLEMS).map(([code, { status }]) => [code, status])),
  );
});
