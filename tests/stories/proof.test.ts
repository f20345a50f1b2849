import { expect, test } from 'vitest';
import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { judgeProof } from '../../shared/proof/judge.ts';
import { leavingOf } from '../../shared/proof/leaving.ts';
import type { MarkKind, ProofInput, ProofMark, Verdict } from '../../shared/proof/session.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { corrected } from '../../shared/wire/proof-correct.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { Shelter, shelterDocument, type Miswired } from '../fixtures/proof-shelter.ts';
import type { Row } from '../fixtures/fold-run.ts';

/**
 * A visit as an installer makes it: what was done when, what the gateway told of it, and what the page says. Seconds count from
 * the session’s beginning.
 */
const START = parseInstant('2026-03-03T17:00:00Z')!;
const at = (second: number): Instant => START + seconds(second);

class Visit {
  readonly shelter: Shelter;
  readonly rows: Row[] = [];
  readonly marks: ProofMark[] = [];
  events: EventDraft[] = [];
  documents: { from: Instant; document: SiteDocument }[];
  #now = 0;

  constructor(wrong: Miswired = {}, document: object = shelterDocument()) {
    this.shelter = new Shelter(at(-300), wrong);
    this.documents = [{ from: -Infinity, document: document as SiteDocument }];
  }

  /** done, and pressed two seconds later */
  do(second: number, unit: number, kind: MarkKind): this {
    const on = `unit-${unit}`;
    const call = { 'call-on': { call: true }, 'call-off': { call: false } }[kind as string];
    const power = { 'power-off': { controlVoltage: 0 }, 'power-back': { controlVoltage: 26 } }[
      kind as string
    ];
    const wire = { 'alarm-open': { alarmWireOpen: true }, 'alarm-closed': { alarmWireOpen: false } }[
      kind as string
    ];
    this.shelter.set(unit, at(second), { ...call, ...power, ...wire });
    return this.mark(second + 2, kind, on);
  }

  mark(second: number, kind: MarkKind, on: string, note = ''): this {
    const id = `${this.marks.length}`.padStart(4, '0');
    this.marks.push({ id, kind, on, at: at(second), arrivedAt: at(second), by: 'Ann', note });
    this.#now = second;
    return this;
  }

  /** one press on the first fault of a kind */
  correct(verdict: Verdict, kind: string): this {
    const { correction } = verdict.faults.find((fault) => fault.kind === kind)!;
    const from = correction!.kind === 'swap' ? at(this.#now) : -Infinity;
    this.documents = this.documents.map((one) =>
      one.from >= from ? { ...one, document: corrected(one.document, correction!) } : one,
    );
    if (from > -Infinity)
      this.documents.push({ from, document: corrected(this.documents.at(-1)!.document, correction!) });
    return this;
  }

  input(second: number): ProofInput {
    this.shelter.advance(at(second));
    this.rows.push(...this.shelter.take());
    const history: SiteHistory = this.documents.map(({ from, document }) => {
      const parsed = parseConfiguration('kettle-ridge', document);
      if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
      return { from, site: parsed.site };
    });
    const samples = new Map<string, { t: Instant; value: number; quality: number }[]>();
    for (const { key, t, value } of this.rows) {
      const list = samples.get(key) ?? [];
      samples.set(key, [...list, { t, value, quality: 0 }]);
    }
    const newest = Math.max(...this.rows.map(({ t }) => t));
    return {
      session: { from: at(0), to: at(8 * 3600) },
      history,
      samples,
      lives: new Map([['gateway', newest]]),
      events: this.events,
      marks: this.marks,
    };
  }

  verdict(second: number): Verdict {
    return judgeProof(this.input(second));
  }
}

/** Everything that is asked of a unit, from a second on; 600 s long. */
function proveUnit(visit: Visit, unit: number, from: number): void {
  visit
    .do(from, unit, 'call-on')
    .do(from + 120, unit, 'call-off')
    .do(from + 124, unit, 'call-on');
  visit.do(from + 260, unit, 'alarm-open').do(from + 275, unit, 'alarm-closed');
  visit.do(from + 300, unit, 'power-off').do(from + 330, unit, 'power-back');
  visit.do(from + 560, unit, 'call-off');
}

const grades = ({ items }: Verdict): Record<string, string> =>
  Object.fromEntries(items.map(({ key, grade }) => [key, grade]));
const says = ({ faults }: Verdict): string[] => faults.map((fault) => fault.says);
const ANSWERED = { state: 'answered', answeredAt: '11:52' } as const;

test('a voltage is proven when it is first told, however long it goes on being told', () => {
  const visit = new Visit();
  const at300 = visit.verdict(300).items.find(({ key }) => key === 'panel-a/line-voltage')!;
  // polled every ten seconds
  expect(at300.at! - at(0)).toBeLessThanOrEqual(seconds(10));
  expect(visit.verdict(900).items.find(({ key }) => key === at300.key)!.at).toBe(at300.at);
});

test('a shelter that is wired right: everything is proven but the pressure trips, which nobody may provoke', () => {
  const visit = new Visit();
  proveUnit(visit, 1, 60);
  proveUnit(visit, 2, 700);
  const verdict = visit.verdict(1320);
  expect(says(verdict)).toEqual([]);
  expect(grades(verdict)).toEqual({
    'unit-1/cooling-call': 'proven',
    'unit-1/compressor-output': 'proven',
    'unit-1/high-pressure': 'cannot-provoke',
    'unit-1/low-pressure': 'cannot-provoke',
    'unit-1/lockout-alarm': 'proven',
    'unit-1/control-voltage': 'proven',
    'unit:unit-1/run': 'proven',
    'unit:unit-1/off-delay': 'proven',
    'unit:unit-1/power-return': 'proven',
    'unit-2/cooling-call': 'proven',
    'unit-2/compressor-output': 'proven',
    'unit-2/high-pressure': 'cannot-provoke',
    'unit-2/low-pressure': 'cannot-provoke',
    'unit-2/lockout-alarm': 'proven',
    'unit-2/control-voltage': 'proven',
    'unit:unit-2/run': 'proven',
    'unit:unit-2/off-delay': 'proven',
    'unit:unit-2/power-return': 'proven',
    'panel-a/line-voltage': 'proven',
    'room/space-temperature': 'proven',
  });
  expect(leavingOf(verdict, ANSWERED).says).toBe(
    'You may leave: 16 proven, 4 can’t be provoked safely, 0 contradict; test notice answered 11:52.',
  );
  // off-cycle delays 30 and 50 s; power-up delays 120 + 0.1 × those (handbook 2.1), voltage polled each 5 s
  const measured = verdict.items.flatMap((item) => item.measured ?? []);
  expect(measured.map(({ what, setting }) => [what, setting])).toEqual([
    ['off-delay', 30],
    ['power-up-delay', 123],
    ['off-delay', 50],
    ['power-up-delay', 125],
  ]);
  for (const {
    seconds: [low, high],
    setting,
    isOff,
  } of measured) {
    expect([low <= setting && setting <= high, high - low <= 6, isOff]).toEqual([true, true, false]);
  }
});

test('before anything is done: what is to be done, the shortest first, and no pressure trip among it', () => {
  const verdict = new Visit().verdict(60);
  const { mayLeave, says: line, todo } = leavingOf(verdict, { state: 'none', answeredAt: null });
  expect(mayLeave).toBe(false);
  expect(line).toMatch(
    /^Don’t leave yet: Give Unit 1 a cooling call at its thermostat and end it; press each as you do it\. And \d+ more\.$/,
  );
  expect(todo.map(({ seconds: length }) => length)).toEqual(
    todo.map(({ seconds: length }) => length).toSorted((a, b) => a - b),
  );
  expect(todo.map((one) => one.says).join(' ')).not.toMatch(/jumper|bypass|bridge|hold in|trip/i);
});

test('polarity, two swapped wires, a dead wire and a clock 90 s behind: each is named, put right, and the rest proven', () => {
  const visit = new Visit({
    clock: -90,
    inverted: ['unit-1/compressor-output'],
    swapped: [['unit-1/cooling-call', 'unit-2/cooling-call']],
    dead: ['unit-2/lockout-alarm'],
  });
  visit.do(60, 1, 'call-on').do(180, 1, 'call-off').do(260, 2, 'call-on').do(380, 2, 'call-off');
  visit.do(400, 2, 'alarm-open').do(415, 2, 'alarm-closed');
  const first = visit.verdict(600);
  expect(says(first)).toEqual([
    expect.stringMatching(/^Clock off: gateway is 9[12] s behind\.$/),
    'Two wires are swapped: Unit 1’s cooling call and Unit 2’s cooling call.',
    'Dead wire: Unit 2’s alarm contact never moved.',
    'Wrong polarity: Unit 1’s compressor output is recorded as normally-open and behaves as normally-closed.',
  ]);
  visit.correct(first, 'clock').correct(first, 'polarity').correct(first, 'swapped');
  visit.shelter.rewire({ dead: [] });
  visit.mark(610, 'mended', 'unit-2/lockout-alarm');
  proveUnit(visit, 1, 700);
  proveUnit(visit, 2, 1400);
  visit.rows.push(...visit.shelter.take());
  // what is told under the other’s name is now taken as it was meant
  const last = judgeProof(swapRows(visit.input(2100), at(600)));
  expect(says(last)).toEqual([]);
  expect(leavingOf(last, ANSWERED).says).toBe(
    'You may leave: 16 proven, 4 can’t be provoked safely, 0 contradict; test notice answered 11:52.',
  );
});

/** What ingest does from the correction on: a point takes what is told as its `input`. */
function swapRows(input: ProofInput, from: Instant): ProofInput {
  const [a, b] = ['unit-1/cooling-call', 'unit-2/cooling-call'];
  const [one, other] = [a, b].map((key) => input.samples.get(key!) ?? []);
  const late = ({ t }: { t: Instant }) => t + seconds(90) > from;
  const mixed = (own: typeof one, told: typeof one) => [
    ...own!.filter((s) => !late(s)),
    ...told!.filter(late),
  ];
  return { ...input, samples: new Map([...input.samples, [a!, mixed(one, other)], [b!, mixed(other, one)]]) };
}

test('a pressure trip that comes by itself, days after the visit, is ticked off', () => {
  const visit = new Visit();
  proveUnit(visit, 1, 60);
  const before = visit.input(700);
  const shown = { signal: 'high-pressure', t: at(90_000), value: 1, says: 'tripped' } as const;
  const event = {
    id: 'e',
    kind: 'soft-lockout',
    unit: 'unit-1',
    certainty: 'certain',
    start: { earliest: at(90_000), latest: at(90_000) },
    evidence: [shown],
  } as unknown as EventDraft;
  expect(grades(judgeProof(before))['unit-1/high-pressure']).toBe('cannot-provoke');
  expect(grades(judgeProof({ ...before, events: [event] }))['unit-1/high-pressure']).toBe('proven');
});

test('what has no qualified person today is left out by name, and one may leave', () => {
  const visit = new Visit();
  for (const unit of [1, 2]) {
    const from = 60 + 400 * (unit - 1);
    visit
      .do(from, unit, 'call-on')
      .do(from + 120, unit, 'call-off')
      .do(from + 124, unit, 'call-on')
      .do(from + 240, unit, 'call-off');
    visit.mark(from + 250, 'left-out', `unit:unit-${unit}/power-return`, 'no electrician');
    visit.mark(from + 251, 'left-out', `unit-${unit}/lockout-alarm`, 'no electrician');
  }
  expect(leavingOf(visit.verdict(900), ANSWERED).says).toBe(
    'You may leave: 12 proven, 4 can’t be provoked safely, 4 left out, 0 contradict; test notice answered 11:52.',
  );
});

test('call and output of one unit on each other’s inputs: the output came before its call', () => {
  const visit = new Visit({ swapped: [['unit-1/cooling-call', 'unit-1/compressor-output']] });
  visit.do(60, 1, 'call-on').do(180, 1, 'call-off').do(183, 1, 'call-on').do(300, 1, 'call-off');
  expect(says(visit.verdict(420))).toContain(
    'Two wires are swapped: Unit 1’s cooling call and Unit 1’s compressor output.',
  );
});

test('an output that stays still while its call outlasts every delay is a dead wire', () => {
  const visit = new Visit({ dead: ['unit-2/compressor-output'] });
  visit.do(60, 2, 'call-on').do(460, 2, 'call-off');
  expect(says(visit.verdict(600))).toContain('Dead wire: Unit 2’s compressor output never moved.');
});

test('a late gateway isn’t a dead one, and its lateness isn’t a clock', () => {
  const visit = new Visit();
  visit.do(60, 1, 'call-on').do(180, 1, 'call-off');
  const whole = visit.input(185);
  // three minutes behind: nothing of the visit has arrived
  const early = new Map([...whole.samples].map(([key, list]) => [key, list.filter(({ t }) => t < at(5))]));
  const verdict = judgeProof({ ...whole, samples: early, lives: new Map([['gateway', at(5)]]) });
  expect(says(verdict)).toEqual([]);
  expect(verdict.gateways[0]).toMatchObject({ aheadSeconds: null, knownThrough: at(5) });
});

test('a setting that isn’t what was measured, and a point that is polled otherwise than recorded', () => {
  const document = shelterDocument(90);
  document.units[0]!.points[5]!.reporting!.seconds = 60;
  const visit = new Visit({}, document);
  visit.do(60, 1, 'call-on').do(180, 1, 'call-off').do(184, 1, 'call-on').do(300, 1, 'call-off');
  const verdict = visit.verdict(420);
  expect(says(verdict)).toEqual([
    'Reporting isn’t as recorded: Unit 1’s control voltage, it comes each 5 s and is recorded as polled each 60 s.',
    'The off-cycle delay of Unit 1 isn’t as recorded: measured 30 s, recorded 90 s.',
  ]);
  expect(verdict.faults.map(({ correction }) => correction)).toEqual([
    { kind: 'reporting', point: 'unit-1/control-voltage', seconds: 5 },
    { kind: 'off-delay', unit: 'unit-1', seconds: 30 },
  ]);
});
