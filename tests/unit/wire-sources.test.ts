import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { TopicTree } from '../../ingest/topic-tree.ts';
import { parsePointer, valueAt } from '../../shared/telemetry/json-pointer.ts';
import { parseSparkplugName } from '../../shared/telemetry/sparkplug-name.ts';
import { filtersOverlap } from '../../shared/telemetry/topic-filter.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

type Faults = [pointer: string, message: RegExp][];

function faultsOf(...points: unknown[]): readonly { pointer: string; message: string }[] {
  const parsed = parseConfiguration('rowan', {
    timeZone: 'America/Chicago',
    panels: [{ id: 'panel-a' }],
    units: [{ id: 'unit-1', panel: 'panel-a', points }],
  });
  return parsed.ok ? [] : parsed.faults;
}

describe('sources in a site’s document', () => {
  test.each<[what: string, points: unknown[], faults: Faults]>([
    [
      'a pointer that is none',
      [{ signal: 'cooling-call', source: { topic: 'a/b', pointer: 'inputs/3' } }],
      [['/units/0/points/0/source/pointer', /JSON Pointer, as "\/inputs\/3\/state"/]],
    ],
    [
      'a pointer with a bare "~"',
      [{ signal: 'cooling-call', source: { topic: 'a/b', pointer: '/a~b' } }],
      [['/units/0/points/0/source/pointer', /"~" is written "~0"/]],
    ],
    [
      'a "#" that isn’t last',
      [{ signal: 'cooling-call', source: { topic: 'a/#/b' } }],
      [['/units/0/points/0/source/topic', /must be the last level/]],
    ],
    [
      'a "+" beside letters',
      [{ signal: 'cooling-call', source: { topic: 'a/b+' } }],
      [['/units/0/points/0/source/topic', /one whole level/]],
    ],
    [
      'a filter that takes everything',
      [{ signal: 'cooling-call', source: { topic: '+/b' } }],
      [['/units/0/points/0/source/topic', /Name the first level/]],
    ],
    [
      'one of the broker’s own topics',
      [{ signal: 'cooling-call', source: { topic: '$SYS/uptime' } }],
      [['/units/0/points/0/source/topic', /the broker’s own/]],
    ],
    [
      'Sparkplug by its topic',
      [{ signal: 'cooling-call', source: { topic: 'spBv1.0/g/DDATA/e/d' } }],
      [['/units/0/points/0/source/topic', /named by "sparkplug"/]],
    ],
    [
      'filters that overlap at the same pointer',
      [
        { signal: 'cooling-call', source: { topic: 'a/+/di', pointer: '/x' } },
        { signal: 'fan-call', source: { topic: 'a/2/#', pointer: '/x' } },
      ],
      [['/units/0/points/1/source', /taken by \/units\/0\/points\/0 already \(a\/\+\/di\)/]],
    ],
    [
      'two sources of one point',
      [{ signal: 'cooling-call', source: { topic: 'a' }, sparkplug: 'g/e/d/m' }],
      [['/units/0/points/0/sparkplug', /keep either/]],
    ],
    [
      'two points of one metric',
      [
        { signal: 'cooling-call', sparkplug: 'g/e/d/m' },
        { signal: 'fan-call', sparkplug: 'g/e/d/m' },
      ],
      [['/units/0/points/1/sparkplug', /taken by \/units\/0\/points\/0/]],
    ],
    [
      'a metric without its edge node',
      [{ signal: 'cooling-call', sparkplug: 'g' }],
      [['/units/0/points/0/sparkplug', /group\/edge node\/device\/metric name/]],
    ],
  ])('refused: %s', (_, points, expected) => {
    const faults = faultsOf(...points);
    expect(faults.map(({ pointer }) => pointer)).toEqual(expected.map(([pointer]) => pointer));
    for (const [i, [, message]] of expected.entries()) expect(faults[i]!.message).toMatch(message);
  });

  test('one topic may be many points’, each at its own pointer', () => {
    expect(
      faultsOf(
        { signal: 'cooling-call', source: { topic: 'a/+/di', pointer: '/x' } },
        { signal: 'fan-call', source: { topic: 'a/2/di', pointer: '/y' } },
      ),
    ).toEqual([]);
  });
});

describe('JSON Pointers', () => {
  /** RFC 6901 section 5: the document and its table, whole. */
  const RFC = {
    foo: ['bar', 'baz'],
    '': 0,
    'a/b': 1,
    'c%d': 2,
    'e^f': 3,
    'g|h': 4,
    'i\\j': 5,
    'k"l': 6,
    ' ': 7,
    'm~n': 8,
  };
  test.each<[pointer: string, value: unknown]>([
    ['', RFC],
    ['/foo', ['bar', 'baz']],
    ['/foo/0', 'bar'],
    ['/', 0],
    ['/a~1b', 1],
    ['/c%d', 2],
    ['/e^f', 3],
    ['/g|h', 4],
    ['/i\\j', 5],
    ['/k"l', 6],
    ['/ ', 7],
    ['/m~0n', 8],
    ['/foo/-', undefined],
    ['/foo/00', undefined],
    ['/foo/length', undefined],
    ['/toString', undefined],
  ])('%j', (pointer, value) => {
    expect(valueAt(RFC, parsePointer(pointer)!)).toEqual(value);
  });
});

describe('Sparkplug names', () => {
  test.each([
    ['g/e/d/m', { group: 'g', edge: 'e', device: 'd', metric: 'm' }],
    ['g/e/d/a/b', { group: 'g', edge: 'e', device: 'd', metric: 'a/b' }],
    ['g/e//a/b', { group: 'g', edge: 'e', device: '', metric: 'a/b' }],
    ['g/e/m', { group: 'g', edge: 'e', device: '', metric: 'm' }],
    ['g/e', null],
    ['g/+/d/m', null],
  ])('%s', (text, name) => {
    expect(parseSparkplugName(text)).toEqual(name);
  });
});

describe('topic filters', () => {
  const word = fc.constantFrom('a', 'b', '');
  const topic = fc.array(word, { minLength: 1, maxLength: 4 }).map((words) => words.join('/'));
  const filter = fc
    .tuple(fc.array(fc.constantFrom('a', 'b', '', '+'), { maxLength: 4 }), fc.boolean())
    .filter(([words, rest]) => words.length > 0 || rest)
    .map(([words, rest]) => [...words, ...(rest ? ['#'] : [])].join('/'));

  /** MQTT 5 section 4.7.1, word by word. */
  const takes = (one: string, name: string): boolean => {
    const [words, levels] = [one.split('/'), name.split('/')];
    const rest = words.at(-1) === '#';
    const fixed = rest ? words.slice(0, -1) : words;
    const fits = fixed.every((level, i) => levels[i] !== undefined && (level === '+' || level === levels[i]));
    return fits && (rest ? levels.length >= fixed.length : levels.length === fixed.length);
  };

  test('the tree finds exactly the filters that take a topic', () => {
    fc.assert(
      fc.property(fc.uniqueArray(filter, { maxLength: 12 }), topic, (filters, name) => {
        const tree = new TopicTree<string>();
        for (const one of filters) tree.add(one, one);
        expect(tree.match(name).sort()).toEqual(filters.filter((one) => takes(one, name)).sort());
      }),
      { numRuns: 1_000 },
    );
  });

  test('two filters overlap exactly where a topic is taken by both', () => {
    const letters = ['a', 'b', '', 'c'];
    const all = (depth: number): string[][] =>
      depth === 0 ? [[]] : all(depth - 1).flatMap((words) => letters.map((letter) => [...words, letter]));
    const names = [1, 2, 3, 4, 5].flatMap((depth) => all(depth).map((words) => words.join('/')));
    fc.assert(
      fc.property(filter, filter, (a, b) => {
        expect(filtersOverlap(a, b)).toBe(names.some((name) => takes(a, name) && takes(b, name)));
      }),
      { numRuns: 300 },
    );
  });
});
