import { seconds } from '../base/instant.ts';
import type { EventDraft } from '../inference/event.ts';
import { signalRow } from '../telemetry/signals.ts';
import type { Panel, Site, Unit } from '../telemetry/site.ts';
import { followsLine, followsOutput, valuesOf } from './judge-analog.ts';
import { bounceOf, directionOf, restOf, type Shown, type Stretch, type Words } from './judge-contact.ts';
import { reportingOf } from './judge-reporting.ts';
import { lengthOf } from './lengths.ts';
import { natureShows, wireOf } from './nature.ts';
import { assertedAs, type PointRecord } from './point-record.ts';
import type { Responses } from './responses.ts';
import type { Check, Fault, Grade, ProofItem, Todo } from './session.ts';

/** One point: what is asked of it by its signal, and what is still to be done for it. */
export interface PointCase {
  readonly record: PointRecord;
  /** its own unit, or those that share it */
  readonly units: readonly Unit[];
  readonly site: Site;
  readonly responses: Responses;
  readonly words: Words;
  readonly events: readonly EventDraft[];
  /** points whose wire is known to be on another’s input, dead, or the wrong way round: nothing else is told by them */
  readonly crossed: ReadonlySet<string>;
}

export interface PointShown {
  readonly item: ProofItem;
  readonly faults: readonly Fault[];
}

interface Kind {
  readonly show: (at: PointCase) => Shown;
  /** the checks that prove it; every one of them must be right */
  readonly needs: readonly Check['kind'][];
  readonly todo: (at: PointCase) => Todo | 'cannot-provoke';
}

export function judgePoint(at: PointCase): PointShown {
  const { record, words } = at;
  const { key, point } = record;
  const kind = kindOf(at);
  const shown = at.crossed.has(key)
    ? []
    : [kind.show(at), bounceOf(record, words), reportingOf(record, words)];
  const checks = shown.flatMap((one) => one.checks);
  const faults = shown.flatMap((one) => one.faults);
  const grade = gradeOf(at, kind, checks);
  const proving = checks.filter((check) => kind.needs.includes(check.kind) && check.state === 'right');
  const todo = grade === 'not-yet' ? kind.todo(at) : null;
  return {
    item: {
      key,
      device: point.device,
      name: signalRow(point.signal).name,
      grade,
      checks,
      at: grade === 'proven' ? Math.max(...proving.map((check) => check.at ?? record.since)) : null,
      todo: todo === 'cannot-provoke' ? null : todo,
      measured: null,
    },
    faults,
  };
}

function gradeOf(at: PointCase, kind: Kind, checks: readonly Check[]): Grade {
  if (checks.some(({ state }) => state === 'wrong')) return 'contradicted';
  const needed = checks.filter((check) => kind.needs.includes(check.kind));
  const has = kind.needs.every((need) => needed.some((check) => check.kind === need));
  if (has && needed.every(({ state }) => state === 'right')) return 'proven';
  return kind.todo(at) === 'cannot-provoke' ? 'cannot-provoke' : 'not-yet';
}

function kindOf(at: PointCase): Kind {
  const { signal } = at.record.point;
  if (signal === 'cooling-call' || signal === 'compressor-output') return DIRECTED;
  if (signal === 'high-pressure' || signal === 'low-pressure') return PRESSURE;
  if (signal === 'lockout-alarm') return ALARM;
  if (signal === 'control-voltage') return CONTROL_VOLTAGE;
  if (signal === 'contactor-voltage' || signal === 'compressor-current') return OF_THE_OUTPUT;
  return signalRow(signal).kind === 'contact' ? OTHER_CONTACT : OTHER_VALUE;
}

const outputsOf = ({ units, responses }: PointCase): PointRecord[] =>
  units.flatMap(({ id }) => responses.record(`${id}/compressor-output`) ?? []);
const outputOf = (at: PointCase): PointRecord | null =>
  outputsOf(at).find(({ key }) => !at.crossed.has(key)) ?? null;
const nameOf = ({ units, site }: PointCase): string => units[0]?.name ?? site.name;
const panelOf = ({ record, units, site }: PointCase): Panel | null =>
  site.panels.find(({ id }) => id === record.point.device || id === units[0]?.panel) ?? null;

const CALL_SECONDS = 60;
const DIRECTED: Kind = {
  show: (at) =>
    at.units[0] ? directionOf(at.record, at.units[0].id, at.responses, at.words) : { checks: [], faults: [] },
  needs: ['moved', 'polarity'],
  todo: (at) => {
    const isOutput = at.record.point.signal === 'compressor-output';
    const wait = at.units[0]?.protection.offDelay.value ?? 0;
    return {
      says: isOutput
        ? `Call ${nameOf(at)} until it runs (at most ${lengthOf(wait)}), end the call, and press both.`
        : `Give ${nameOf(at)} a cooling call at its thermostat and end it; press each as you do it.`,
      seconds: CALL_SECONDS + (isOutput ? wait : 0),
      qualified: false,
    };
  },
};

const PRESSURE: Kind = {
  show: (at) => merged(restShown(at), { checks: [natureShows(at)], faults: [] }),
  needs: ['trip'],
  todo: (at) =>
    restKnown(at)
      ? 'cannot-provoke'
      : {
          says: `Let ${nameOf(at)} run: its ${signalRow(at.record.point.signal).name} must be at rest then.`,
          seconds: 120,
          qualified: false,
        },
};

const restShown = (at: PointCase): Shown =>
  restOf(
    at.record,
    outputOf(at),
    { bypassSeconds: at.units[0]?.protection.lowPressureBypass.value ?? 120, except: handled(at) },
    at.words,
  );

/** While somebody has its wire open, nothing of its rest is told. */
function handled({ record, units, responses }: PointCase): Stretch[] {
  const marks = units.flatMap(({ id }) => responses.marksFor(record, id, ['alarm-open', 'alarm-closed']));
  return marks.flatMap((mark, i): Stretch[] => {
    const next = marks[i + 1];
    if (mark.kind !== 'alarm-open') return [];
    return [
      {
        from: responses.at(mark, record) - BY_HAND,
        to: next ? responses.at(next, record) + BY_HAND : Infinity,
      },
    ];
  });
}
const BY_HAND = seconds(15);

const restKnown = (at: PointCase): boolean =>
  outputsOf(at).length === 0 || restShown(at).checks.some(({ state }) => state === 'right');

const ALARM: Kind = {
  show: (at) => merged(restShown(at), { checks: [wireOf(at), natureShows(at)], faults: [] }),
  needs: ['wire'],
  todo: (at) =>
    isOpenAtRest(at.record) && restKnown(at)
      ? 'cannot-provoke'
      : {
          says: `Qualified people only: open the wire of ${nameOf(at)}’s alarm contact at the gateway’s extra-low-voltage input, where the gateway’s instructions allow it, and put it back.`,
          seconds: 90,
          qualified: true,
        },
};

/** Opening the wire of a contact that rests open shows nothing, and nobody is asked to bridge it. */
const isOpenAtRest = ({ point }: PointRecord): boolean => assertedAs(point, 0) === 0;

const CONTROL_VOLTAGE: Kind = {
  show: (at) =>
    merged(valuesOf(at.record, null, at.words), {
      checks: at.units[0] ? [followsLine(at.record, at.units[0].id, at.responses, at.words)] : [],
      faults: [],
    }),
  needs: ['plausible'],
  todo: (at) => ({
    says: `Wait for ${nameOf(at)}’s control voltage to be heard.`,
    seconds: 30,
    qualified: false,
  }),
};

const OF_THE_OUTPUT: Kind = {
  show: (at) => merged(valuesOf(at.record, null, at.words), followsOutput(at.record, outputOf(at), at.words)),
  needs: ['follows'],
  todo: (at) => DIRECTED.todo(at),
};

const OTHER_VALUE: Kind = {
  show: (at) => valuesOf(at.record, panelOf(at), at.words),
  needs: ['heard'],
  todo: (at) => ({
    says: `Wait for ${at.words.point(at.record.key)} to be heard.`,
    seconds: 30,
    qualified: false,
  }),
};

const OTHER_CONTACT: Kind = {
  show: (at) => ({ checks: [natureShows(at)], faults: [] }),
  needs: ['trip'],
  todo: (at) =>
    at.record.point.signal === 'door-open'
      ? { says: `Open and close the door of ${nameOf(at)}.`, seconds: 20, qualified: false }
      : 'cannot-provoke',
};

const merged = (a: Shown, b: Shown): Shown => ({
  checks: [...a.checks, ...b.checks],
  faults: [...a.faults, ...b.faults],
});
