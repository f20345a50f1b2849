import { describe, expect, it } from 'vitest';
import { paperOf, type Block, type PrintedDocument } from '../../server/print/blocks.ts';
import { printPdf } from '../../server/print/print-pdf.ts';
import { parseInstant, seconds } from '../../shared/base/instant.ts';
import { DRAWING_WORDS, type Drawing } from '../../shared/wire/drawings.ts';
import { readPdf } from '../fixtures/pdf.ts';

const T = parseInstant('2026-03-03T20:00:00Z')!;
const LETTERS = 'Łódź, Škoda, Αθήνα: 2.0 s – the unit’s “½” ≥ 12 − 3 → 9 °C, ±5 %, τ, 3 × 4…';
const DRAWINGS = Object.entries(DRAWING_WORDS) as [Drawing, string][];

const documentOf = (blocks: readonly Block[]): PrintedDocument => ({
  title: 'What the outage did',
  foot: 'times in America/Chicago',
  paper: 'letter',
  madeAt: T,
  blocks,
});

const chart: Block = {
  kind: 'chart',
  from: T,
  to: T + seconds(700),
  ticks: [0, 300, 600].map((s) => ({ at: T + seconds(s), label: `14:0${s / 60}` })),
  lanes: DRAWINGS.map(([drawing, words], i) => ({
    name: words,
    pieces: [{ from: T + seconds(60 * i), to: T + seconds(60 * i + 200), drawing }],
  })),
  plots: [
    {
      name: 'line voltage, Panel A',
      low: 0,
      high: 260,
      points: [0, 100, 101, 400, 401, 700].map((s) => {
        const volts = s > 100 && s <= 400 ? 0 : 241;
        return { t: T + seconds(s), least: volts, most: volts };
      }),
      thresholds: [{ value: 216, says: 'sag below 216 V' }],
    },
  ],
  marks: [{ at: T + seconds(400), label: 'power back' }],
};

describe('a printed document', () => {
  it('keeps every letter of a sentence, on pages that are numbered and name their zone', async () => {
    const rows = Array.from({ length: 70 }, (_, i) => [`Room ${i + 1}`, `${i} min`, 'started together']);
    const table: Block = {
      kind: 'table',
      columns: [
        { name: 'unit', width: 2 },
        { name: 'without cooling', width: 1, align: 'right' },
        { name: 'verdict', width: 3 },
      ],
      rows,
    };
    const read = readPdf(await printPdf(documentOf([{ kind: 'paragraph', text: LETTERS }, table])));
    expect(read.text).toContain(LETTERS);
    expect(read.pages.length).toBeGreaterThan(1);
    expect(read.text).toContain(`page 1 of ${read.pages.length}`);
    expect(read.text.match(/times in America\/Chicago/g)).toHaveLength(read.pages.length);
    expect(read.text.match(/without cooling/g)).toHaveLength(read.pages.length);
    for (const row of rows) expect(read.text).toContain(row.join(' '));
  });

  it('draws its timing chart in black alone, with every drawing, its legend and its thresholds', async () => {
    const read = readPdf(await printPdf(documentOf([chart, { kind: 'legend', drawings: DRAWINGS }])));
    expect(read.pages).toHaveLength(1);
    expect(read.pages[0]!.coloured).toBe(false);
    expect(read.pages[0]!.ink).toBeGreaterThan(0.02);
    for (const [, words] of DRAWINGS) expect(read.text).toContain(words);
    expect(read.text).toContain('sag below 216 V');
    expect(read.text).toContain('power back');
  });

  it('gives the same bytes for the same blocks', async () => {
    const [a, b] = await Promise.all([printPdf(documentOf([chart])), printPdf(documentOf([chart]))]);
    expect(a.equals(b)).toBe(true);
  });

  it('is printed on the paper of its place', () => {
    expect(paperOf('America/Chicago')).toBe('letter');
    expect(paperOf('Europe/Berlin')).toBe('a4');
  });
});
