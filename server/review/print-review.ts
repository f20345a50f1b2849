import type { Queries } from '../../db/pool.ts';
import { readTouching } from '../../db/read-review.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { DRAWING_WORDS, PHASE_DRAWINGS, type Drawing } from '../../shared/wire/drawings.ts';
import type { ReviewAnswer, SiteReviewAnswer } from '../../shared/wire/review-answer.ts';
import {
  restartCells,
  rideCells,
  roomCells,
  siteCells,
  spacingCells,
} from '../../shared/wire/review-tables.ts';
import { dayText, secondText } from '../../shared/wire/review-words.ts';
import { readInstant } from '../../shared/wire/standing-wire.ts';
import { STRIP_KINDS, stripOf, type StripEvent } from '../../shared/wire/strip.ts';
import {
  paperOf,
  type Block,
  type ChartBlock,
  type PrintedColumn,
  type PrintedDocument,
} from '../print/blocks.ts';
import type { Setup } from '../follow/setup.ts';
import { readAnalog } from '../series/analog.ts';
import { timeTicks } from './time-ticks.ts';

/** Reviews on paper: the same sentences and tables as the page, and the timing chart by hatch. */
const column = (name: string, width: number): PrintedColumn => ({ name, width });

export function printedFleet(answer: ReviewAnswer, link: string): PrintedDocument {
  const zone = answer.rows[0]?.timeZone ?? 'UTC';
  const blocks: Block[] = [
    { kind: 'paragraph', text: answer.completeness.says },
    ...(answer.counts.length > 0
      ? [{ kind: 'list' as const, items: answer.counts.map(({ says }) => `${says}.`) }]
      : []),
    {
      kind: 'table',
      columns: [
        ...[column('site', 3), column('away', 2), column('generator', 2), column('restart', 1.6)],
        ...[column('without cooling', 2), column('highest', 1.8), column('starts', 2), column('to do', 3.2)],
      ],
      rows: answer.rows.map(siteCells),
    },
    ...missingBlocks(answer),
    { kind: 'paragraph', small: true, text: `Kept at ${link}` },
  ];
  return {
    title: answer.headline,
    foot: footOf(zone, answer.serverTime),
    paper: paperOf(zone),
    madeAt: readInstant(answer.serverTime),
    blocks,
  };
}

function missingBlocks({ completeness }: ReviewAnswer): Block[] {
  if (completeness.missing.length === 0) return [];
  const items = completeness.missing.slice(0, 100).map(({ name, gateway }) => `${name}: ${gateway}`);
  return [
    { kind: 'heading', text: 'Gateways that haven’t delivered' },
    { kind: 'list', items },
  ];
}

const footOf = (zone: string, madeAt: string): string =>
  `times in ${zone} · made ${dayText(readInstant(madeAt), zone)}, ${secondText(readInstant(madeAt), zone)}`;

export function printedSite(answer: SiteReviewAnswer, chart: Block[], link: string): PrintedDocument {
  const zone = answer.timeZone;
  const blocks: Block[] = [
    { kind: 'paragraph', text: `${answer.title}, ${dayText(readInstant(answer.start.latest), zone)}.` },
    { kind: 'list', items: answer.sentences.map(({ text }) => text) },
    ...(answer.todo.length > 0
      ? [heading('To do'), { kind: 'list' as const, items: answer.todo.map(({ says }) => says) }]
      : []),
    heading('What happened when'),
    ...chart,
    ...restartBlocks(answer),
    ...unitBlocks(answer),
    ...earlierBlocks(answer),
    { kind: 'paragraph', small: true, text: `Kept at ${link}` },
  ];
  return {
    title: answer.headline,
    foot: footOf(zone, answer.serverTime),
    paper: paperOf(zone),
    madeAt: readInstant(answer.serverTime),
    blocks,
  };
}

const heading = (text: string): Block => ({ kind: 'heading', text });

const restartBlocks = ({ restarts, timeZone: zone }: SiteReviewAnswer): Block[] =>
  restarts.flatMap((restart): Block[] => [
    heading(
      `Restart on ${restart.name}, power back at ${secondText(readInstant(restart.back.latest), zone)}`,
    ),
    {
      kind: 'table',
      columns: [
        column('unit', 3),
        column('', 2),
        column('planned', 2),
        column('seen', 2),
        column('deviation', 3),
      ],
      rows: restartCells(restart),
    },
    ...(restart.spacings.length > 0
      ? [
          {
            kind: 'table' as const,
            columns: [
              column('neighbours', 3),
              column('apart', 2),
              column(`minimum ${restart.minimumSeconds} s`, 4),
            ],
            rows: spacingCells(restart),
          },
        ]
      : []),
  ]);

const unitBlocks = ({ units, rooms, timeZone: zone }: SiteReviewAnswer): Block[] => [
  heading('Units'),
  {
    kind: 'table',
    columns: [
      ...[column('unit', 2), column('it', 2.4), column('restarted', 1.4), column('without cooling', 2)],
      ...[column('margin', 2.6), column('dips so far', 2.4)],
    ],
    rows: units.map((ride) => rideCells(ride, zone)),
  },
  heading('Rooms'),
  {
    kind: 'table',
    columns: [column('room', 3), column('without cooling', 3), column('highest', 4)],
    rows: rooms.map((room) => roomCells(room, zone)),
  },
];

function earlierBlocks({ earlier, timeZone }: SiteReviewAnswer): Block[] {
  if (!earlier) return [];
  const day = dayText(readInstant(earlier.start.latest), timeZone);
  return [
    heading(`Beside ${earlier.title.toLowerCase()} of ${day}`),
    {
      kind: 'table',
      columns: [column('', 3), column('then', 3), column('this time', 3)],
      rows: earlier.rows.map(({ what, then, now }) => [what, then, now]),
    },
  ];
}

const PLOT_WIDTH = 400;
const LANE_EVENTS = 5000;

/** Every unit's lane and each panel's line voltage over the window of a site's review. */
export async function readPrintedChart(
  queries: Queries,
  setup: Setup,
  answer: SiteReviewAnswer,
): Promise<Block[]> {
  const [from, to] = [readInstant(answer.window.from), readInstant(answer.window.to)];
  const site = siteAt(setup.history, from)!;
  const asked = { sites: [site.id], kinds: STRIP_KINDS, from: from - seconds(600), to, limit: LANE_EVENTS };
  const events = (await readTouching(queries, asked)).flatMap((event): StripEvent[] =>
    event.unit === null
      ? []
      : [
          {
            id: `${event.unit} ${event.id}`,
            kind: event.kind,
            certainty: event.certainty,
            start: event.start.latest,
            end: event.end?.latest ?? null,
          },
        ],
  );
  const reached = site.units.filter(({ id }) => answer.units.some(({ unit }) => unit === id));
  const chart: ChartBlock = {
    kind: 'chart',
    from,
    to,
    ticks: timeTicks(from, to, answer.timeZone),
    lanes: reached.map((unit) => laneOf(unit, events, { from, to })),
    plots: await plotsOf(queries, setup, site, { from, to }),
    marks: answer.restarts
      .slice(-3)
      .map(({ back, name }) => ({ at: readInstant(back.latest), label: `power back, ${name}` })),
  };
  const used = new Set(chart.lanes.flatMap(({ pieces }) => pieces.map(({ drawing }) => drawing)));
  const drawings = (Object.entries(DRAWING_WORDS) as [Drawing, string][]).filter(([name]) => used.has(name));
  return [chart, { kind: 'legend', drawings }];
}

function laneOf(
  { id, name, protection }: Site['units'][number],
  events: readonly StripEvent[],
  window: { readonly from: Instant; readonly to: Instant },
): ChartBlock['lanes'][number] {
  const offDelaySeconds = protection.offDelay.value;
  const powerUpDelaySeconds = protection.powerUpBase.value + protection.powerUpShare.value * offDelaySeconds;
  const own = events.filter((event) => event.id.startsWith(`${id} `));
  const { phases } = stripOf(own, { offDelaySeconds, powerUpDelaySeconds }, window);
  const pieces = phases.map(({ phase, start, end }) => ({
    from: window.from + seconds(start),
    to: window.from + seconds(end),
    drawing: PHASE_DRAWINGS[phase],
  }));
  return { name, pieces: [{ ...window, drawing: 'ready' as const }, ...pieces] };
}

async function plotsOf(
  queries: Queries,
  setup: Setup,
  site: Site,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<ChartBlock['plots']> {
  const plots: ChartBlock['plots'][number][] = [];
  for (const panel of site.panels)
    for (const point of panel.points.filter(({ signal }) => signal.startsWith('line-voltage'))) {
      const pointId = setup.ids.points.get(`${point.device}/${point.signal}`);
      if (pointId === undefined) continue;
      const drawn = {
        history: setup.history,
        point,
        pointId,
        stretch,
        width: PLOT_WIDTH,
        unknown: [],
        knownThrough: null,
      };
      const { t, min, max } = await readAnalog(queries, drawn);
      const sag = Math.round(0.9 * panel.nominalVoltage);
      plots.push({
        name: `line voltage, ${panel.name}, V`,
        low: 0,
        high: Math.ceil((1.15 * panel.nominalVoltage) / 10) * 10,
        points: t.map((text, i) => ({ t: readInstant(text), least: min[i]!, most: max[i]! })),
        thresholds: [{ value: sag, says: `sag below ${sag} V` }],
      });
    }
  return plots;
}
