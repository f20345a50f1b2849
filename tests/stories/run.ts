import { expect, it } from 'vitest';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import { edgeAt, type EdgeDetail, type UnitEdge, type UnitEdgeKind } from '../../shared/inference/edge.ts';
import type { EventDraft, Measure, Subject } from '../../shared/inference/event.ts';
import { membersOf, subjectsOf } from '../../shared/inference/sources.ts';
import type { Standing } from '../../shared/inference/standing.ts';
import type { WatchCoverage } from '../../shared/inference/watch.ts';
import { isSignalName } from '../../shared/telemetry/signals.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import { foldPlace } from '../fixtures/place-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/**
 * A story: what happened at a site, line by line, and the facts that must come of it. A line is `when: who what`, times in
 * seconds: `141: unit-1 starts`, `140..145: unit-2 starts` (seen only between the two), `0: panel-a line-voltage 0`; what a
 * meter saw over an interval: `0..600: panel-a line-voltage 180..241 mean 239`.
 * Everything begins quiet: each unit off, powered and not called, ten minutes before.
 */
export interface Story {
  readonly name: string;
  /** a site document without time zone and gateways */
  readonly site: object;
  /** whose facts: `panel-a`, `room-1`, `gateway`, `site` */
  readonly about: string;
  readonly happens: readonly string[];
  /** each fact as `kind cause start–end certainty/cause certainty: members` (fact) */
  readonly facts: readonly string[];
  /** measures of the first fact, those worth a line */
  readonly measures?: Readonly<Record<string, Measure>>;
  readonly standing?: object;
  /** tell the units' power losses and nothing else; other stories only have them as their setting */
  readonly losses?: boolean;
  /** tell what the panel's voltage did and nothing else; other stories only have it as their setting */
  readonly supply?: boolean;
  /** when the story is read; default: an hour after its last line */
  readonly readAt?: number;
  /** stretches without a heartbeat of any gateway; else there is one each 30 s */
  readonly silent?: readonly (readonly [number, number])[];
  readonly watched?: readonly (readonly [number, number])[];
}

const WORDS: Readonly<Record<string, readonly [UnitEdgeKind, EdgeDetail?]>> = {
  starts: ['start'],
  stops: ['stop'],
  'loses power': ['power-away'],
  'has power again': ['power-back'],
  'is called': ['call-on'],
  'is no longer called': ['call-off'],
  'latches out': ['latched'],
  'is reset': ['released'],
  'is in soft lockout': ['held', { why: 'soft-lockout', wait: [210, 210], ran: [300, 300] }],
  'drops at its start': ['held', { why: 'undervoltage-hold', wait: [210, 210], ran: [1, 2] }],
  'may run again': ['free'],
  'draws no current': ['failed'],
  'draws current again': ['recovered'],
  'is silent': ['unknown', { of: 'run' }],
  'is heard running': ['known', { of: 'run', now: 1 }],
  'is heard off': ['known', { of: 'run', now: 0 }],
};

const SUPPLY: ReadonlySet<string> = new Set(['voltage-sag', 'voltage-swell', 'interruption']);

/** half the width of an edge that was timed at the gateway: the points' resolution */
const RESOLUTION = 0.1;
const QUIET_SINCE = -600;

export function tellStory(story: Story): void {
  it(story.name, () => {
    const { events, standing } = foldStory(story);
    expect(events.map(fact)).toEqual(story.facts);
    if (story.measures) expect(events[0]!.measures).toMatchObject(story.measures);
    if (story.standing) expect(standing).toMatchObject(story.standing);
  });
}

export function foldStory(story: Story): { readonly events: EventDraft[]; readonly standing: Standing } {
  const site = siteOf(story.site);
  const subject = subjectNamed(site, story.about);
  const lines = story.happens.map(readLine);
  const last = Math.max(0, ...lines.map(({ span }) => inSeconds(span.latest)));
  const now = seconds(story.readAt ?? last + 3600);
  const edges = [...quiet(site, subject), ...lines.flatMap((line) => edgeOf(line))];
  const rows = [...lines.flatMap((line) => rowOf(line)), ...heartbeats(site, inSeconds(now), story.silent)];
  const watch: WatchCoverage = {
    spans: (story.watched ?? [[QUIET_SINCE, inSeconds(now)]]).map(([from, to]) => ({
      from: seconds(from),
      to: seconds(to),
    })),
  };
  const result = foldPlace({ history: [{ from: -Infinity, site }], subject, edges, rows, watch, now });
  return {
    events: result.events
      .filter(({ kind }) => (kind === 'power-loss') === (story.losses ?? false))
      .filter(({ kind }) => SUPPLY.has(kind) === (story.supply ?? false))
      .sort((a, b) => a.start.latest - b.start.latest || (a.kind < b.kind ? -1 : 1)),
    standing: result.standing,
  };
}

function heartbeats(site: Site, until: number, silent: Story['silent'] = []): Row[] {
  const rows: Row[] = [];
  for (let at = QUIET_SINCE; at <= until; at += 30) {
    if (silent.some(([from, to]) => at > from && at < to)) continue;
    for (const { id } of site.gateways) rows.push({ key: `${id}/life`, t: seconds(at), value: 1 });
  }
  return rows;
}

function siteOf(document: object): Site {
  const parsed = parseConfiguration('rowan', {
    timeZone: 'America/Chicago',
    gateways: [{ id: 'gateway', heartbeatSeconds: 60 }],
    ...document,
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site;
}

function subjectNamed(site: Site, device: string): Subject {
  const found = subjectsOf([{ from: -Infinity, site }]).find(
    (one) => one.device === device && one.kind !== 'unit',
  );
  if (!found) throw new Error(`the story's site has no ${device}`);
  return found;
}

function quiet(site: Site, subject: Subject): UnitEdge[] {
  const at = { earliest: seconds(QUIET_SINCE), latest: seconds(QUIET_SINCE) };
  return membersOf(site, subject).flatMap(({ id, points }) => {
    const wired = new Set(points.map(({ signal }) => signal));
    const known = (of: string, now: number): UnitEdge => ({
      unit: id,
      kind: 'known',
      span: at,
      certain: true,
      detail: { of, now },
    });
    return [
      ...(wired.has('compressor-output') ? [known('run', 0)] : []),
      ...(wired.has('control-voltage') ? [known('power', 1)] : []),
      ...(wired.has('cooling-call') ? [known('call', 0)] : []),
    ];
  });
}

interface Line {
  readonly span: Span;
  readonly at: Instant;
  readonly who: string;
  readonly what: string;
}

function readLine(line: string): Line {
  const [, from, to, who, what] = /^(-?[\d.]+?)(?:\.\.(-?[\d.]+))?: (\S+) (.+)$/.exec(line) ?? [];
  if (!who || !what) throw new Error(`no line of a story: ${line}`);
  const at = seconds(Number(from));
  const span =
    to === undefined
      ? { earliest: at - seconds(RESOLUTION), latest: at + seconds(RESOLUTION) }
      : { earliest: at, latest: seconds(Number(to)) };
  return { span, at, who, what };
}

function edgeOf({ span, who, what }: Line): UnitEdge[] {
  const [kind, detail] = WORDS[what] ?? [];
  if (!kind) return [];
  return [{ unit: who, kind, span, certain: true, ...(detail ? { detail } : {}) }];
}

function rowOf({ at, span, who, what }: Line): Row[] {
  if (WORDS[what]) return [];
  const [signal, value, quality] = what.split(' ');
  if (!isSignalName(signal!)) throw new Error(`no such thing can happen: ${who} ${what}`);
  const [, least, most, mean] = /^\S+ ([\d.]+?)\.\.([\d.]+)(?: mean ([\d.]+))?$/.exec(what) ?? [];
  if (most !== undefined) {
    const given = mean === undefined ? null : Number(mean);
    const interval = { from: at, least: Number(least), most: Number(most), mean: given };
    return [{ key: `${who}/${signal}`, t: span.latest, value: given ?? Number(least), interval }];
  }
  return [{ key: `${who}/${signal}`, t: at, value: Number(value ?? 1), quality: quality === 'bad' ? 2 : 0 }];
}

/** `simultaneous-start after-power-return 141–142 certain/certain: unit-1 unit-2` */
export function fact(event: EventDraft): string {
  const start = when(event.start);
  const end = event.end ? when(event.end) : '…';
  const sure = event.causeCertainty ? `${event.certainty}/${event.causeCertainty}` : event.certainty;
  const about = [event.unit, event.kind, event.cause, start === end ? start : `${start}–${end}`, sure];
  const members = event.members.length > 0 ? `: ${event.members.join(' ')}` : '';
  return `${about.filter(Boolean).join(' ')}${members}`;
}

/** Within the resolution as one time, else both ends. */
function when({ earliest, latest }: Span): string {
  const [a, b] = [inSeconds(earliest), inSeconds(latest)];
  if (b - a <= 2 * RESOLUTION + 1e-6) return String(Math.round(((a + b) / 2) * 10) / 10);
  return `${Math.round(a * 10) / 10}..${Math.round(b * 10) / 10}`;
}

export const inOrder = (edges: readonly UnitEdge[]): UnitEdge[] =>
  [...edges].sort(
    (a, b) =>
      edgeAt(a) - edgeAt(b) ||
      a.span.earliest - b.span.earliest ||
      (a.unit < b.unit ? -1 : a.unit > b.unit ? 1 : 0),
  );

/** A unit with call, output and control voltage on change. */
export const wired = (id: string, more: object = {}): object => ({
  id,
  panel: 'panel-a',
  protection: { offDelay: 210 },
  points: [
    { signal: 'cooling-call' },
    { signal: 'compressor-output' },
    { signal: 'control-voltage', reporting: { mode: 'on-change' } },
  ],
  ...more,
});
