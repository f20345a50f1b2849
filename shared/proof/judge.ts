import { seconds } from '../base/instant.ts';
import { clockText } from '../people/wall-time.ts';
import { signalRow } from '../telemetry/signals.ts';
import { siteAt, type Site } from '../telemetry/site.ts';
import { gatewayFaults } from './gateway-faults.ts';
import { judgePoint, type PointCase } from './judge-point.ts';
import { judgeUnit } from './judge-unit.ts';
import { pointRecords, type PointRecord } from './point-record.ts';
import { gatewayClocks, Responses } from './responses.ts';
import type { Fault, Grade, ProofInput, ProofItem, Verdict } from './session.ts';
import { wireFaults } from './wires.ts';

/**
 * What a session has proven: a function of the configuration’s history, the samples around it, the events, and the marks,
 * whatever order any of them came in. A point that a fault names is contradicted until it is put right; what nobody may
 * provoke (a pressure trip) stays not yet seen and is ticked off when nature shows it.
 */
export function judgeProof(input: ProofInput): Verdict {
  const { history, session, marks } = input;
  const site = siteAt(history, session.to);
  if (site === null) return { items: [], faults: [], gateways: [] };
  const clocks = gatewayClocks(pointRecords(input, null), marks);
  const records = pointRecords(input, (gateway) => seconds(clocks.get(gateway)?.aheadSeconds ?? 0));
  const responses = new Responses(records, marks, clocks);
  const words = {
    point: (key: string) => pointName(site, key),
    clock: (at: number) => clockText(at, site.timeZone),
  };
  const faults = [
    ...gatewayFaults(site, [...clocks.values()], session.from),
    ...wireFaults(responses, words, (record) => unitsOf(record, site)),
  ];
  const crossed = new Set(faults.flatMap(({ kind, on }) => (kind === 'clock' ? [] : on)));
  const items: ProofItem[] = [];
  // what others are told by comes first
  for (const record of records.toSorted((a, b) => rankOf(a) - rankOf(b))) {
    const units = unitsOf(record, site).flatMap((id) => site.units.find((unit) => unit.id === id) ?? []);
    const at: PointCase = { record, units, site, responses, words, events: input.events, crossed };
    const shown = judgePoint(at);
    items.push(shown.item);
    faults.push(...shown.faults);
    if (rankOf(record) === 0) for (const { on } of shown.faults) for (const key of on) crossed.add(key);
  }
  for (const unit of site.units) {
    const panel = site.panels.find(({ id }) => id === unit.panel) ?? null;
    const neighbours = site.units.filter((one) => one.panel === unit.panel && one.id !== unit.id);
    const shown = judgeUnit({ unit, panel, responses, words, neighbours, crossed });
    items.push(...shown.items);
    faults.push(...shown.faults);
  }
  const left = new Map(
    marks.filter(({ kind }) => kind === 'left-out').map(({ on, note }) => [on, note] as const),
  );
  return {
    items: placed(items, site).map((item) => graded(item, faults, left)),
    faults: inOrder(faults),
    gateways: [...clocks.values()],
  };
}

const rankOf = ({ point: { signal } }: PointRecord): number =>
  signal === 'cooling-call' || signal === 'compressor-output' ? 0 : 1;

/** Unit by unit, as in the document; then panels, spaces and the site. */
function placed(items: readonly ProofItem[], { units, panels, spaces }: Site): ProofItem[] {
  const places = [...units, ...panels, ...spaces].map(({ id }) => id);
  const place = ({ device }: ProofItem): number =>
    places.includes(device) ? places.indexOf(device) : places.length;
  return items.toSorted((a, b) => place(a) - place(b));
}

/** What a fault names isn’t proven; what isn’t yet, and was left out, is so by a person’s word. */
function graded(item: ProofItem, faults: readonly Fault[], left: ReadonlyMap<string, string>): ProofItem {
  const isWrong = item.grade === 'contradicted' || faults.some(({ on }) => on.includes(item.key));
  if (isWrong) return { ...item, grade: 'contradicted', at: null, todo: null };
  const isLeft = item.grade === 'not-yet' && left.has(item.key);
  return isLeft ? { ...item, grade: 'left-out' satisfies Grade, todo: null } : item;
}

const ORDER: readonly Fault['kind'][] = [
  'clock',
  'swapped',
  'mapping',
  'dead-wire',
  'polarity',
  'value',
  'reporting',
  'bounce',
  'setting',
];
const inOrder = (faults: readonly Fault[]): Fault[] =>
  faults.toSorted(
    (a, b) => ORDER.indexOf(a.kind) - ORDER.indexOf(b.kind) || (a.key < b.key ? -1 : a.key > b.key ? 1 : 0),
  );

/** Its own unit, or those that share it; none for what is of no unit. */
const unitsOf = ({ point }: PointRecord, { units }: Site): string[] =>
  point.of.length > 0 ? [...point.of] : units.some(({ id }) => id === point.device) ? [point.device] : [];

/** `Room 12’s cooling call`. */
export function pointName(site: Site, key: string): string {
  const [device = '', signal = ''] = key.split('/');
  const named = [...site.units, ...site.panels, ...site.spaces].find(({ id }) => id === device);
  const of = named && named.name !== '' ? named.name : device === 'site' ? site.name : device;
  return `${of}’s ${signalRow(signal as Parameters<typeof signalRow>[0]).name}`;
}
