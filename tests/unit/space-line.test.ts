import { describe, expect, it } from 'vitest';
import { exactly } from '../../shared/base/span.ts';
import {
  and,
  isNot,
  newLine,
  nextBreak,
  or,
  passEdges,
  pushEdge,
  readLine,
  type Line,
  type Truth,
} from '../../shared/inference/space/line.ts';

const known = (so: boolean): Line => {
  const line = newLine();
  pushEdge(line, exactly(0), { so });
  passEdges(line, 0);
  return line;
};
const either = (truth: Truth) => ({ believed: truth, sure: truth });

describe('a line of three values', () => {
  it('is one or the other within an edge’s span, and settled outside it', () => {
    const line = known(false);
    pushEdge(line, { earliest: 10, latest: 20 }, { so: true });
    expect(readLine(line, 5)).toEqual(either('no'));
    expect(readLine(line, 10)).toEqual(either('maybe'));
    passEdges(line, 20);
    expect(readLine(line, 20)).toEqual(either('yes'));
  });

  it('is swept from one end of a span to the next', () => {
    const line = known(false);
    pushEdge(line, { earliest: 10, latest: 20 }, { so: true });
    pushEdge(line, { earliest: 15, latest: 30 }, { so: false });
    expect([0, 10, 15, 20, 30].map((at) => nextBreak(line, at))).toEqual([10, 15, 20, 30, Infinity]);
  });

  it('never seen, it isn’t believed and may be', () => {
    expect(readLine(newLine(), 0)).toEqual({ believed: 'no', sure: 'maybe' });
  });

  it('become unknown, it is held as believed and may be either for sure', () => {
    const line = known(true);
    pushEdge(line, exactly(10), { known: false });
    passEdges(line, 10);
    expect(readLine(line, 10)).toEqual({ believed: 'yes', sure: 'maybe' });
  });

  it('leaning on a setting, it counts as believed only', () => {
    const line = known(false);
    pushEdge(line, exactly(10), { so: true, sure: false });
    passEdges(line, 10);
    expect(readLine(line, 10)).toEqual({ believed: 'yes', sure: 'maybe' });
  });

  it.each([
    ['yes', 'maybe', 'maybe', 'yes'],
    ['no', 'maybe', 'no', 'maybe'],
    ['maybe', 'maybe', 'maybe', 'maybe'],
    ['yes', 'no', 'no', 'yes'],
  ] as const)('%s and, or %s: %s, %s', (a, b, conjunction, disjunction) => {
    expect(and(either(a), either(b))).toEqual(either(conjunction));
    expect(or(either(a), either(b))).toEqual(either(disjunction));
  });

  it('turned round, maybe stays maybe', () => {
    expect((['yes', 'no', 'maybe'] as const).map((truth) => isNot(either(truth)).sure)).toEqual([
      'no',
      'yes',
      'maybe',
    ]);
  });
});
