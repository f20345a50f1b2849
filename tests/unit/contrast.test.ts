import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';

/**
 * Every pair of colours that the page puts on one another, read from its own token file: WCAG 2.2 contrast (relative
 * luminance as WCAG defines it), in both grounds, also as seen with each of the three colour deficiencies.
 */
type Colour = readonly [r: number, g: number, b: number];
type Ground = 'light' | 'dark';

const css = readFileSync('web/src/style/tokens.css', 'utf8');
const tokens = Object.fromEntries(
  [...css.matchAll(/--([a-z]+): light-dark\(#([0-9a-f]{6}), #([0-9a-f]{6})\)/g)].map(
    ([, name, light, dark]) => [name!, { light: parsed(light!), dark: parsed(dark!) }],
  ),
);

function parsed(hex: string): Colour {
  return [0, 2, 4].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255) as unknown as Colour;
}

const linear = (c: number): number => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
const luminance = ([r, g, b]: Colour): number => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
function contrast(a: Colour, b: Colour): number {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
}

/** Machado, Oliveira, Fernandes 2009, severity 1.0, applied to linear RGB [matrices from memory]. */
const DEFICIENCIES = {
  protanopia: [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998],
  deuteranopia: [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.01182, 0.04294, 0.968881],
  tritanopia: [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.3039],
} as const;
const coded = (c: number): number => (c <= 0.0031308 ? c * 12.92 : 1.055 * c ** (1 / 2.4) - 0.055);
function seenWith(matrix: readonly number[], colour: Colour): Colour {
  const from = colour.map(linear);
  const row = (i: number) => matrix[i]! * from[0]! + matrix[i + 1]! * from[1]! + matrix[i + 2]! * from[2]!;
  return [row(0), row(3), row(6)].map((c) => coded(Math.min(1, Math.max(0, c)))) as unknown as Colour;
}

/** 4.5: text (WCAG 1.4.3). 3: drawings and edges of controls (1.4.11). */
const TEXT = 4.5;
const DRAWN = 3;
const PAIRS: readonly (readonly [string, string, number])[] = [
  ...['paper', 'card', 'tint', 'caution'].map((ground) => ['ink', ground, TEXT] as const),
  ...['paper', 'card'].flatMap((ground) =>
    ['soft', 'bad', 'warn', 'focus'].map((ink) => [ink, ground, TEXT] as const),
  ),
  ['bad', 'tint', TEXT],
  ['warn', 'caution', DRAWN],
  ...['paper', 'card'].flatMap((ground) =>
    ['run', 'wait', 'edge', 'bad', 'warn'].map((ink) => [ink, ground, DRAWN] as const),
  ),
];

test('the token file is read', () => {
  expect(Object.keys(tokens).length).toBeGreaterThanOrEqual(13);
});

describe.each(['light', 'dark'] as const)('on %s ground', (ground: Ground) => {
  test.each(PAIRS)('%s on %s', (ink, paper, least) => {
    expect(contrast(tokens[ink]![ground], tokens[paper]![ground])).toBeGreaterThanOrEqual(least);
  });
  test.each(Object.entries(DEFICIENCIES))('every pair with %s', (_, matrix) => {
    const poor = PAIRS.filter(
      ([ink, paper, least]) =>
        contrast(seenWith(matrix, tokens[ink]![ground]), seenWith(matrix, tokens[paper]![ground])) < least,
    );
    expect(poor).toEqual([]);
  });
});

test('normal running is never the heaviest ink', () => {
  for (const ground of ['light', 'dark'] as const) {
    const paper = tokens['paper']![ground];
    const weight = (name: string) => contrast(tokens[name]![ground], paper);
    expect(weight('run')).toBeLessThan(weight('bad'));
    expect(weight('run')).toBeLessThan(weight('ink'));
  }
});

test('print is black only', () => {
  const print = css.slice(css.indexOf('@media print'));
  const colours = new Set([...print.matchAll(/--[a-z]+: (#\w+)/g)].map(([, colour]) => colour));
  expect(colours).toEqual(new Set(['#fff', '#000']));
});
