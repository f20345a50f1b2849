import { readFileSync } from 'node:fs';
import { pino } from 'pino';
import { describe, expect, test } from 'vitest';
import { logObservations } from '../../ingest/log.ts';
import type { Observation } from '../../ingest/observation.ts';
import { KINDS_TOLD_APART, LINES_A_MINUTE, LogFlood } from '../../shared/wire/log-flood.ts';
import { LOG_FIELDS, lineShape } from '../../shared/wire/log-lines.ts';

/** A logger that writes into a list, by a clock of the test's own. */
function aLogger() {
  const lines: Record<string, unknown>[] = [];
  const clock = { ms: 0 };
  const { formatters, hooks, tellMore } = lineShape(() => clock.ms);
  const write = (text: string) => void lines.push(JSON.parse(text) as Record<string, unknown>);
  const base = { process: 'test', pid: 1 };
  const logger = pino(
    { base, formatters, hooks, level: 'debug', timestamp: pino.stdTimeFunctions.isoTime },
    { write },
  );
  return { logger, lines, clock, tellMore };
}

describe('a log line', () => {
  test('has the documented fields and no others, whatever a part says', () => {
    const { logger, lines } = aLogger();
    const observe = logObservations(logger);
    const all: Observation[] = [
      { kind: 'committed', messages: 3, samples: 4, changed: 4, rejected: 0, tookMs: 2, oldestMs: 3 },
      { kind: 'set-aside', reason: 'point-not-known', entries: 2, topic: 'holdoff/elm/x/y' },
      { kind: 'commit-delayed', attempt: 2, error: new Error('no connection') },
      { kind: 'rebirth-asked', group: 'g', edge: 'e', why: 'first' },
      { kind: 'client-refused', client: 'c', why: 'packet too large' },
    ];
    for (const one of all) observe(one);
    logger.child({ part: 'alarms' }).error({ err: new Error('x\ny'), site: 'elm' }, 'deciding failed');
    for (const line of lines)
      expect(Object.keys(line).filter((field) => !Object.hasOwn(LOG_FIELDS, field))).toEqual([]);
    expect(lines[0]).toMatchObject({
      ...{ level: 'debug', process: 'test', part: 'ingest', msg: 'committed', tookMs: 2 },
      counts: { messages: 3, samples: 4, changed: 4, rejected: 0, oldestMs: 3 },
    });
    expect(lines[1]).toMatchObject({
      reason: 'point-not-known',
      topic: 'holdoff/elm/x/y',
      counts: { entries: 2 },
    });
    expect(lines[2]).toMatchObject({ err: { message: 'no connection' }, counts: { attempt: 2 } });
    expect(lines[3]).toMatchObject({ reason: 'first', details: { group: 'g', edge: 'e' } });
    expect(lines[0]!['time']).toMatch(/^\d{4}-\d\d-\d\dT[\d:.]+Z$/);
  });

  test('is described in DEVELOPERS.md as the code has it', () => {
    const section = readFileSync('DEVELOPERS.md', 'utf8').split('## What it logs')[1]!.split('\n## ')[0]!;
    const rows = [...section.matchAll(/^\| `(\w+)` \| (.*) \|$/gm)].map((row) => [row[1], row[2]]);
    expect(Object.fromEntries(rows)).toEqual(LOG_FIELDS);
  });
});

describe('a flood of one kind', () => {
  test('is written for twenty lines a minute, then counted; another kind is written all the same', () => {
    const { logger, lines, clock, tellMore } = aLogger();
    for (let i = 0; i < 1_254; i++) logger.warn({ reason: 'busy', counts: { attempt: i } }, 'tried again');
    logger.warn({ reason: 'connection' }, 'tried again');
    expect(lines).toHaveLength(LINES_A_MINUTE + 1);
    clock.ms = 59_999;
    tellMore();
    expect(lines).toHaveLength(LINES_A_MINUTE + 1);
    clock.ms = 60_000;
    tellMore();
    expect(lines.at(-1)).toMatchObject({
      ...{ level: 'warn', msg: '1,234 more like this: tried again', reason: 'busy', counts: { more: 1_234 } },
    });
    logger.warn({ reason: 'busy' }, 'tried again');
    expect(lines.at(-1)).toMatchObject({ msg: 'tried again' });
  });

  test('debug is written in full, and what ends a process too', () => {
    const { logger, lines } = aLogger();
    for (let i = 0; i < 50; i++) logger.debug('looked');
    for (let i = 0; i < 50; i++) logger.fatal('over');
    expect(lines).toHaveLength(100);
  });

  test('of ever new kinds is bounded, too', () => {
    const flood = new LogFlood<number>();
    const written = Array.from({ length: 10_000 }, (_, i) => flood.mayWrite(`kind ${i}`, 0, i)).filter(
      Boolean,
    );
    expect(written).toHaveLength(KINDS_TOLD_APART + LINES_A_MINUTE);
    expect(flood.takeMore(60_000)).toEqual([
      { told: 9_999, more: 10_000 - KINDS_TOLD_APART - LINES_A_MINUTE },
    ]);
  });

  test('a clock that is set back ends the minute', () => {
    const flood = new LogFlood<number>();
    for (let i = 0; i < 30; i++) flood.mayWrite('kind', 1_000_000, i);
    expect(flood.takeMore(0)).toHaveLength(1);
  });
});
