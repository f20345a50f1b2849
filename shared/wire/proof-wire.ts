import type { Instant } from '../base/instant.ts';
import { clockText } from '../people/wall-time.ts';
import { recordDifferences, type RecordedItem } from '../proof/differences.ts';
import { measuredText } from '../proof/judge-unit.ts';
import { lengthOf } from '../proof/lengths.ts';
import { leavingOf, type Drill } from '../proof/leaving.ts';
import type { GatewayProof, ProofMark, Verdict } from '../proof/session.ts';
import type { Site } from '../telemetry/site.ts';
import { wireInstant } from './standing-wire.ts';
import type { ProofItemAnswer, ProofRecord } from './proof-answer.ts';
import { correctionText } from './proof-correct.ts';

/** From a verdict to what crosses the wire and is kept. */
export interface DrillState {
  readonly state: 'none' | 'sent' | 'answered' | 'nobody';
  readonly sentAt: Instant | null;
  readonly answeredAt: Instant | null;
  readonly answeredBy: string | null;
}

export interface Around {
  readonly site: Site;
  readonly drill: DrillState;
  readonly marks: readonly ProofMark[];
  /** when each item was first known to be proven */
  readonly arrived: ReadonlyMap<string, Instant>;
  /** seconds from a change to here */
  readonly delays: ReadonlyMap<string, { readonly usual: number; readonly slowest: number }>;
}

export function wireProof(verdict: Verdict, around: Around): ProofRecord {
  const { site, drill, marks, arrived, delays } = around;
  const clock = (at: Instant) => clockText(at, site.timeZone);
  const leaving = leavingOf(verdict, drillFor(drill, clock));
  return {
    ...leaving,
    todo: leaving.todo.map((one) => ({ ...one, items: [...one.items] })),
    items: verdict.items.map((item) => ({
      ...item,
      checks: item.checks.map((check) => ({ ...check, at: wireInstant(check.at) })),
      at: wireInstant(item.at),
      arrivedAt: item.grade === 'proven' ? wireInstant(arrived.get(item.key) ?? null) : null,
    })),
    faults: verdict.faults.map(({ correction, on, because, ...fault }) => ({
      ...fault,
      on: [...on],
      because: [...because],
      correction: correction && correctionText(site, correction),
    })),
    gateways: verdict.gateways.map((gateway) =>
      gatewayLine(gateway, delays.get(gateway.gateway) ?? null, clock),
    ),
    drill: {
      state: drill.state,
      says: drillText(drill, clock),
      answeredAt: wireInstant(drill.answeredAt),
      answeredBy: drill.answeredBy,
    },
    marks: marks.map(({ at, arrivedAt, ...mark }) => ({
      ...mark,
      at: wireInstant(at)!,
      arrivedAt: wireInstant(arrivedAt)!,
    })),
  };
}

const drillFor = ({ state, answeredAt }: DrillState, clock: (at: Instant) => string): Drill => ({
  state,
  answeredAt: answeredAt === null ? null : clock(answeredAt),
});

function drillText(
  { state, sentAt, answeredAt, answeredBy }: DrillState,
  clock: (at: Instant) => string,
): string {
  switch (state) {
    case 'none':
      return 'No TEST notice was sent yet.';
    case 'sent':
      return `TEST notice sent ${clock(sentAt!)}; nobody has answered it yet.`;
    case 'nobody':
      return `TEST notice sent ${clock(sentAt!)}: nobody is left to be told. Look at the site’s policy and at the channels of whoever is on call, then send another.`;
    case 'answered':
      return `TEST notice answered ${clock(answeredAt!)} by ${answeredBy}.`;
  }
}

function gatewayLine(
  { gateway, aheadSeconds, knownThrough }: GatewayProof,
  delay: { readonly usual: number; readonly slowest: number } | null,
  clock: (at: Instant) => string,
): ProofRecord['gateways'][number] {
  const heard = knownThrough === null ? 'Not heard yet' : `Known through ${clock(knownThrough)}`;
  const screen =
    delay === null
      ? ''
      : `; a change is here after ${lengthOf(Math.max(0, delay.usual))}, ${lengthOf(Math.max(0, delay.slowest))} in the slowest minute`;
  const off = aheadSeconds === null ? 'its clock isn’t known yet' : `its clock is ${clockOff(aheadSeconds)}`;
  return {
    gateway,
    says: `${heard}${screen}; ${off}.`,
    aheadSeconds,
    knownThrough: wireInstant(knownThrough),
    usualSeconds: delay && Math.round(delay.usual * 10) / 10,
    slowestSeconds: delay && Math.round(delay.slowest * 10) / 10,
  };
}

const clockOff = (ahead: number): string => {
  const off = Math.round(Math.abs(ahead));
  return off <= 5 ? 'right to a hand’s few seconds' : `${off} s ${ahead > 0 ? 'ahead' : 'behind'}`;
};

export const GRADE_WORDS: Readonly<Record<ProofItemAnswer['grade'], string>> = {
  proven: 'proven',
  contradicted: 'contradicts',
  'not-yet': 'not yet seen',
  'cannot-provoke': 'not yet seen; can’t be provoked safely',
  'left-out': 'left out',
};

/** One sentence for each difference. */
export function differenceTexts(
  before: readonly RecordedItem[],
  after: readonly RecordedItem[],
  nameOf: (device: string) => string,
): { key: string; says: string }[] {
  return recordDifferences(before, after).map(({ key, device, name, before: was, after: is }) => {
    const of = `${nameOf(device)}, ${name}`;
    if (!was) return { key, says: `${of}: new, ${GRADE_WORDS[is!.grade]}.` };
    if (!is) return { key, says: `${of}: not there any more; was ${GRADE_WORDS[was.grade]}.` };
    const grades =
      was.grade === is.grade ? [] : [`was ${GRADE_WORDS[was.grade]}, is ${GRADE_WORDS[is.grade]}`];
    const measured =
      was.measured && is.measured && measuredText(was.measured) !== measuredText(is.measured)
        ? [`measured ${measuredText(is.measured)}, before ${measuredText(was.measured)}`]
        : [];
    const settings =
      was.measured && is.measured && was.measured.setting !== is.measured.setting
        ? [`setting ${lengthOf(is.measured.setting)}, before ${lengthOf(was.measured.setting)}`]
        : [];
    return {
      key,
      says: `${of}: ${[...grades, ...measured, ...settings].join('; ') || 'measured otherwise'}.`,
    };
  });
}
