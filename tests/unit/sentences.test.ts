import { describe, expect, test } from 'vitest';
import { parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { exactly, type Span } from '../../shared/base/span.ts';
import {
  EVENT_CAUSES,
  type Certainty,
  type EventCause,
  type EventKind,
} from '../../shared/inference/event.ts';
import type { SpaceStanding, UnitPhase, UnitStanding } from '../../shared/inference/standing.ts';
import {
  boardAnswer,
  siteAnswer,
  siteGroup,
  siteLine,
  type BoardSite,
} from '../../shared/wire/board-answer.ts';
import { clockLength, drawnLength, lengthBetween, spokenLength } from '../../shared/wire/durations.ts';
import {
  EVENT_WORDS,
  eventSentence,
  measureText,
  type EventFacts,
} from '../../shared/wire/event-sentences.ts';
import {
  PHASE_WORDS,
  spokenSentence,
  timeLeft,
  unitSentence,
  type Reader,
} from '../../shared/wire/sentences.ts';

const NOW: Instant = parseInstant('2026-03-03T14:07:32Z')!;
const at = (seconds: number): Instant => NOW + seconds * SECOND;
const clock = (instant: Instant): string => new Date(instant / 1000).toISOString().slice(11, 16);
const reader: Reader = { now: NOW, frozen: false, clock };

const unit = (over: Partial<UnitStanding>): UnitStanding => ({
  phase: 'ready',
  since: null,
  certainty: 'certain',
  cause: null,
  causeCertainty: null,
  pending: [],
  call: null,
  until: null,
  untilFrom: null,
  overdue: false,
  startsLastHour: 0,
  lastSeen: {},
  event: null,
  ...over,
});
const said = (over: Partial<UnitStanding>, as: Partial<Reader> = {}): string =>
  spokenSentence(unitSentence(unit(over), { ...reader, ...as }));

describe('a unit’s sentence', () => {
  test.each<[string, Partial<UnitStanding>]>([
    ['Running 12 min', { phase: 'running', since: exactly(at(-740)), call: true }],
    ['Ready · no call', { phase: 'ready', call: false }],
    [
      'Hard lockout, high pressure – stays off until the call or the power is broken · latched 12 min ago',
      { phase: 'hard-lockout', cause: 'high-pressure', causeCertainty: 'certain', since: exactly(at(-737)) },
    ],
    [
      'Soft lockout, probably low pressure – retries in 1:23',
      { phase: 'soft-lockout', cause: 'low-pressure', causeCertainty: 'probable', until: exactly(at(83)) },
    ],
    [
      'Soft lockout, high or low pressure, can’t tell which – retries in 1:23',
      { phase: 'soft-lockout', cause: 'pressure', causeCertainty: 'possible', until: exactly(at(83)) },
    ],
    [
      'Hard lockout is probable; high pressure – stays off until the call or the power is broken',
      { phase: 'hard-lockout', certainty: 'probable', cause: 'high-pressure', causeCertainty: 'certain' },
    ],
    [
      'Off-cycle delay – may start in 0:48 · call waiting',
      { phase: 'off-delay', until: exactly(at(48)), call: true },
    ],
    ['Power came back – may start in 1:17', { phase: 'power-up-delay', until: exactly(at(77)) }],
    [
      'Stopped 14 s ago; reason not known yet',
      { phase: 'stopped', since: exactly(at(-14)), pending: ['cause'], certainty: 'certain' },
    ],
    [
      'Off-cycle delay – may start in 1:10–1:20',
      { phase: 'off-delay', until: { earliest: at(70), latest: at(80) } },
    ],
    [
      'Soft lockout; reason not known yet – retry due 0:08 ago, not yet seen',
      { phase: 'soft-lockout', until: exactly(at(-8)), pending: ['cause'] },
    ],
    [
      'Soft lockout – retry overdue by 1:08',
      { phase: 'soft-lockout', until: exactly(at(-68)), overdue: true },
    ],
    [
      'Off-cycle delay – may start in 0:48 · delay assumed, not recorded',
      { phase: 'off-delay', until: exactly(at(48)), untilFrom: 'assumed' },
    ],
    [
      'Not known since 13:53 · last seen running',
      {
        phase: 'not-known',
        since: exactly(at(-840)),
        lastSeen: { 'compressor-output': { t: at(-840), value: 1 } },
      },
    ],
    [
      'No control power for 12 min, the supply failed – waits its power-up delay when power is back',
      { phase: 'no-power', since: exactly(at(-730)), cause: 'supply', causeCertainty: 'certain' },
    ],
  ])('%s', (sentence, standing) => {
    expect(said(standing)).toBe(sentence);
  });

  test('data older than 15 s freeze the countdown and say so', () => {
    expect(said({ phase: 'off-delay', until: exactly(at(48)) }, { frozen: true })).toBe(
      'Off-cycle delay – may start in 0:48, as of 14:07; not live',
    );
  });

  const phases = Object.keys(PHASE_WORDS) as UnitPhase[];
  const certainties: Certainty[] = ['certain', 'probable', 'possible'];
  const causes: (EventCause | null)[] = [
    null,
    'high-pressure',
    'low-pressure',
    'pressure',
    'undervoltage',
    'supply',
    'unit-only',
    'at-start',
    'unknown',
  ];
  const waits: (Span | null)[] = [
    null,
    exactly(at(48)),
    { earliest: at(70), latest: at(80) },
    { earliest: at(-5), latest: at(5) },
    exactly(at(-8)),
  ];

  test('every state × certainty × cause × pending × call × wait is a whole sentence, its term first', () => {
    let count = 0;
    const poor: string[] = [];
    const broken = /undefined|null|NaN|\s\s|[,;–·]\s*[,;–·]|[\s,;–·]$|probably probably/;
    for (const phase of phases)
      for (const certainty of certainties)
        for (const cause of causes)
          for (const causeCertainty of certainties)
            for (const pending of [[], ['cause'], ['cause', 'end']])
              for (const call of [true, false, null])
                for (const until of waits)
                  for (const overdue of [false, true])
                    for (const frozen of [false, true]) {
                      const sentence = said(
                        {
                          phase,
                          certainty,
                          cause,
                          causeCertainty,
                          pending,
                          call,
                          until,
                          overdue,
                          since: exactly(at(-61)),
                          untilFrom: 'assumed',
                        },
                        { frozen },
                      );
                      if (!sentence.startsWith(PHASE_WORDS[phase][certainty]) || broken.test(sentence))
                        poor.push(sentence);
                      count++;
                    }
    expect(poor).toEqual([]);
    console.log(`sentences: ${count} combinations`);
  });

  test('only a wait that ends by itself, on time, needs nobody', () => {
    const need = (over: Partial<UnitStanding>) => unitSentence(unit(over), reader).need;
    expect(need({ phase: 'soft-lockout' })).toBe('nobody');
    expect(need({ phase: 'soft-lockout', overdue: true })).toBe('someone');
    expect(need({ phase: 'hard-lockout' })).toBe('someone');
    expect(need({ phase: 'not-known' })).toBe('not-known');
  });
});

describe('the time left', () => {
  test.each<[string, Span, boolean]>([
    ['in 1:23', exactly(at(83)), false],
    ['in 0:01', exactly(NOW + 1), false],
    ['due now, not yet seen', exactly(NOW), false],
    ['due 0:08 ago, not yet seen', exactly(at(-8)), false],
    ['overdue by 0:08', exactly(at(-8)), true],
    ['in 1:10–1:20', { earliest: at(70), latest: at(80) }, false],
    ['due now, at the latest in 0:05', { earliest: at(-5), latest: at(5) }, false],
    ['in 1:02:03', exactly(at(3723)), false],
  ])('%s', (text, until, overdue) => {
    expect(timeLeft(until, NOW, overdue)).toBe(text);
  });
});

describe('lengths', () => {
  test.each([
    [clockLength(83), '1:23'],
    [clockLength(-1), '0:00'],
    [drawnLength(0.33), '0.33 s'],
    [drawnLength(41.2), '41 s'],
    [drawnLength(210), '3:30'],
    [drawnLength(7500), '2 h 05 min'],
    [drawnLength(273_600), '3 d 4 h'],
    [spokenLength(11_100), '3 h 5 min'],
    [spokenLength(200_000), '2 days'],
    [lengthBetween([180, 190], drawnLength), '3:00–3:10'],
    [lengthBetween([14, 19], spokenLength), '14–19 s'],
    [lengthBetween([-0.4, 0.2], drawnLength), '−0.4 to 0.2 s'],
    [lengthBetween([50, 65], spokenLength), '50 s–1 min'],
  ])('%s', (written, expected) => {
    expect(written).toBe(expected);
  });
});

const event = (over: Partial<EventFacts>): EventFacts => ({
  kind: 'soft-lockout',
  cause: 'high-pressure',
  certainty: 'certain',
  causeCertainty: 'certain',
  pending: [],
  start: exactly(at(-300)),
  end: exactly(at(-90)),
  members: [],
  measures: {},
  ...over,
});

describe('an event’s sentence', () => {
  test('says term, cause, course and a drawing’s label', () => {
    expect(eventSentence(event({}), clock)).toEqual({
      title: 'Soft lockout, high pressure',
      course: 'held off 3:30',
      label: 'soft lockout 3:30',
      pending: null,
    });
  });
  test.each<[string, Partial<EventFacts>]>([
    ['Run, stopped: the call ended', { kind: 'compressor-run', cause: 'call-ended' }],
    ['Run; reason not known yet', { kind: 'compressor-run', cause: null, pending: ['cause'] }],
    [
      'Hard lockout is probable; probably low pressure',
      { kind: 'hard-lockout', cause: 'low-pressure', certainty: 'probable', causeCertainty: 'probable' },
    ],
    ['Telemetry gap: the gateway is silent', { kind: 'telemetry-gap', cause: 'gateway-silent' }],
  ])('%s', (title, over) => {
    expect(eventSentence(event(over), clock).title).toBe(title);
  });
  test('every kind × cause × certainties × open or over × pending is a whole sentence, its term first', () => {
    for (const kind of Object.keys(EVENT_CAUSES) as EventKind[])
      for (const cause of [null, ...EVENT_CAUSES[kind]])
        for (const certainty of ['certain', 'probable', 'possible'] as const)
          for (const causeCertainty of ['certain', 'probable', 'possible', null] as const)
            for (const end of [null, exactly(at(-90))])
              for (const pending of [[], ['cause'], ['certainty', 'end']] as const) {
                const sentence = eventSentence(
                  event({ kind, cause, certainty, causeCertainty, end, pending }),
                  clock,
                );
                expect(sentence.title.startsWith(EVENT_WORDS[kind].term)).toBe(true);
                for (const part of [
                  sentence.title,
                  sentence.course ?? 'x',
                  sentence.label,
                  sentence.pending ?? 'x',
                ])
                  expect(part).not.toMatch(
                    /undefined|null|NaN|\s\s|[,;:]\s*[,;:]|[\s,;:–]$|^$|probably probably/,
                  );
              }
  });
  test('a measure is written with the measure in its name', () => {
    expect(measureText('offSeconds', [209.5, 210.5])).toBe('3:30–3:31');
    expect(measureText('residualVolts', 166.4)).toBe('166.4 V');
    expect(measureText('residualVolts', null)).toBe('not measured');
  });
});

const space = (cooling: SpaceStanding['cooling'], over: Partial<SpaceStanding> = {}): SpaceStanding => ({
  cooling,
  since: null,
  able: 1,
  installed: 1,
  needed: 1,
  temperature: null,
  temperatureLimit: null,
  ...over,
});
const site = (name: string, rooms: SpaceStanding[], units: Partial<UnitStanding>[] = []): BoardSite => ({
  name,
  rooms: rooms.map((room, index) => ({ name: `Room ${index + 1}`, space: room })),
  units: units.map((standing, index) => ({ name: `unit ${index + 1}`, unit: unit(standing) })),
});
const many = (count: number) => Array.from({ length: count }, () => space('all'));

describe('the board’s first line', () => {
  test('all well and one unit in a soft lockout', () => {
    const board = [site('Harrow Lane', many(24), [{ phase: 'soft-lockout' }, { phase: 'running' }])];
    expect(boardAnswer(board, reader)).toBe(
      '24 of 24 rooms have cooling; 1 unit retries by itself; nobody is needed.',
    );
    expect(siteGroup(board[0]!)).toBe('fine');
  });
  test('a shelter down to one unit', () => {
    const shelter = site(
      'Pine Ridge',
      [space('reduced', { able: 1, installed: 2 })],
      [{ phase: 'hard-lockout' }],
    );
    expect(boardAnswer([site('Harrow Lane', many(12)), shelter], reader)).toBe(
      '13 of 13 rooms have cooling; Pine Ridge needs someone.',
    );
    expect(siteLine(shelter)).toBe('cooling reduced: 1 of 2 units can run · unit 1 needs someone');
  });
  test('a site’s own page says which unit', () => {
    const shelter = site(
      'Pine Ridge',
      [space('reduced', { able: 1, installed: 2 })],
      [{ phase: 'hard-lockout' }],
    );
    expect(siteAnswer(shelter, reader)).toBe('Cooling reduced: 1 of 2 units can run; unit 1 needs someone.');
    expect(siteAnswer(site('A', many(8), [{ phase: 'soft-lockout' }]), reader)).toBe(
      '8 of 8 rooms have cooling; 1 unit retries by itself; nobody is needed.',
    );
    expect(siteAnswer(site('A', [space('not-known')]), reader)).toBe(
      'Cooling not known; whether anyone is needed isn’t known.',
    );
  });
  test('lost and not known', () => {
    const board = [
      site('A', [space('lost'), space('all')]),
      site('B', [space('not-known'), space('not-known')]),
    ];
    expect(boardAnswer(board, reader)).toBe(
      '1 of 4 rooms have cooling, 1 has lost it, 2 aren’t known; A needs someone.',
    );
    expect(board.map(siteGroup)).toEqual(['needs-someone', 'not-known']);
  });
  test('only not known doesn’t say that nobody is needed', () => {
    expect(boardAnswer([site('B', [space('not-known')])], reader)).toBe(
      '0 of 1 room has cooling, 1 isn’t known; whether B needs anyone isn’t known.',
    );
  });
  test('after a power return', () => {
    expect(
      boardAnswer([site('A', many(2), [{ phase: 'power-up-delay' }, { phase: 'power-up-delay' }])], reader),
    ).toBe('2 of 2 rooms have cooling; 2 units restart after a power return; nobody is needed.');
  });
  test('stale data are named as such', () => {
    expect(boardAnswer([site('A', many(1))], { ...reader, frozen: true })).toBe(
      `As of ${clock(NOW)}, not live: 1 of 1 room has cooling; nobody is needed.`,
    );
  });
  test('nothing set up', () => {
    expect(boardAnswer([], reader)).toBe('No site is set up yet.');
  });
});
