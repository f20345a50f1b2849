import { parseInstant } from '../base/instant.ts';
import { SIGNALS, type DeviceKind } from '../telemetry/signals.ts';
import { checkInputs } from './check-inputs.ts';
import { checkSources } from './check-sources.ts';
import type { Fault } from './schema-faults.ts';
import type { PointDocument, SiteDocument } from './site-document.ts';

/**
 * What a schema can't say about a site's document: ids are unique, names lead somewhere, a signal may be wired there,
 * fields fit the signal, sources can be told apart, the time zone exists. Takes a document that its schema accepts; gives one
 * fault per problem.
 */
export function checkReferences(document: SiteDocument): Fault[] {
  const faults: Fault[] = [];
  const say: Say = (pointer, message) => faults.push({ pointer, message });
  checkTimeZone(document.timeZone, say);
  checkIds(document, say);
  checkUnits(document, say);
  checkGateways(document, say);
  for (const [pointer, kind, points] of pointLists(document))
    checkPoints(document, pointer, kind, points, say);
  checkSources(
    pointLists(document).flatMap(([list, , points]) =>
      points.map((point, i) => ({ pointer: `${list}/${i}`, point })),
    ),
    say,
  );
  checkInputs(document, say);
  return faults;
}

type Say = (pointer: string, message: string) => void;

export const DEFAULT_GATEWAY = 'gateway';

const isTimeZone = (name: string): boolean => {
  if (!/^[A-Za-z][A-Za-z0-9_+\-/]*$/.test(name)) return false;
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false; // RangeError: the one way in which Intl says that it has no such zone
  }
};

function checkTimeZone(name: string, say: Say): void {
  if (!isTimeZone(name))
    say('/timeZone', `"${name}" isn’t a time zone: give an IANA name, as "America/Chicago".`);
}

/** Devices share one name space, because the telemetry topic names them without their kind. */
function checkIds(document: SiteDocument, say: Say): void {
  const seen = new Map<string, string>([['site', 'the word for the site itself']]);
  if (!document.gateways?.length) seen.set(DEFAULT_GATEWAY, 'the gateway that a site without a list has');
  for (const list of ['gateways', 'spaces', 'panels', 'units'] as const) {
    for (const [i, { id }] of (document[list] ?? []).entries()) {
      const pointer = `/${list}/${i}`;
      const other = seen.get(id);
      if (other) say(`${pointer}/id`, `"${id}" is taken by ${other}: give every device an id of its own.`);
      else seen.set(id, pointer);
    }
  }
}

function checkUnits(document: SiteDocument, say: Say): void {
  const panels = new Set(document.panels?.map((panel) => panel.id));
  const spaces = new Set(document.spaces?.map((space) => space.id));
  for (const [i, unit] of (document.units ?? []).entries()) {
    if (!panels.has(unit.panel))
      say(`/units/${i}/panel`, `There is no panel "${unit.panel}": list it under "panels".`);
    if (unit.space !== undefined && !spaces.has(unit.space))
      say(`/units/${i}/space`, `There is no space "${unit.space}": list it under "spaces".`);
    const { holdUp, protection } = unit;
    if (holdUp !== undefined && protection?.holdUp !== undefined && holdUp !== protection.holdUp)
      say(`/units/${i}/holdUp`, 'holdUp is given twice and differs: keep the one under "protection".');
  }
}

function checkGateways(document: SiteDocument, say: Say): void {
  for (const [i, gateway] of (document.gateways ?? []).entries()) {
    for (const [j, { from }] of (gateway.clockOffsets ?? []).entries()) {
      if (from !== 'always' && parseInstant(from) === null)
        say(`/gateways/${i}/clockOffsets/${j}/from`, 'Give an ISO 8601 instant with its zone, or "always".');
    }
  }
}

type PointList = [pointer: string, kind: DeviceKind, points: readonly PointDocument[]];

function pointLists(document: SiteDocument): PointList[] {
  const lists: PointList[] = [['/points', 'site', document.points ?? []]];
  const kinds = { spaces: 'space', panels: 'panel', units: 'unit' } as const;
  for (const list of ['spaces', 'panels', 'units'] as const) {
    for (const [i, device] of (document[list] ?? []).entries())
      lists.push([`/${list}/${i}/points`, kinds[list], device.points ?? []]);
  }
  return lists;
}

function checkPoints(
  document: SiteDocument,
  pointer: string,
  kind: DeviceKind,
  points: readonly PointDocument[],
  say: Say,
): void {
  const seen = new Set<string>();
  for (const [i, point] of points.entries()) {
    const at = `${pointer}/${i}`;
    const row = SIGNALS[point.signal];
    if (seen.has(point.signal)) say(`${at}/signal`, `"${point.signal}" is listed twice on this ${kind}.`);
    seen.add(point.signal);
    if (!(row.on as readonly DeviceKind[]).includes(kind))
      say(
        `${at}/signal`,
        `"${point.signal}" can’t be wired to a ${kind}: it belongs to a ${row.on.join(' or ')}.`,
      );
    checkFields(document, at, kind, point, say);
  }
}

function checkFields(
  document: SiteDocument,
  at: string,
  kind: DeviceKind,
  point: PointDocument,
  say: Say,
): void {
  checkGatewayName(document, at, point, say);
  checkReporting(at, point, say);
  checkKindFields(at, point, say);
  checkSense(at, point, say);
  checkAlarm(document, at, kind, point, say);
  if (point.range && point.range[0]! >= point.range[1]!)
    say(`${at}/range`, 'Give the range as [lowest, highest], the lowest first.');
}

function checkGatewayName(document: SiteDocument, at: string, point: PointDocument, say: Say): void {
  const gateways = document.gateways?.length ? document.gateways.map(({ id }) => id) : [DEFAULT_GATEWAY];
  if (point.gateway !== undefined && !gateways.includes(point.gateway))
    say(`${at}/gateway`, `There is no gateway "${point.gateway}": list it under "gateways".`);
}

function checkReporting(at: string, { reporting }: PointDocument, say: Say): void {
  if (reporting?.mode === 'polled' && reporting.seconds === undefined)
    say(`${at}/reporting/seconds`, 'A polled point needs its period: give "seconds".');
  if (reporting?.mode === 'on-change' && reporting.seconds !== undefined)
    say(`${at}/reporting/seconds`, 'A point that reports on change has no period: remove "seconds".');
}

function checkKindFields(at: string, point: PointDocument, say: Say): void {
  const isContact = SIGNALS[point.signal].kind === 'contact';
  const misplaced = isContact
    ? (['deadband', 'scale', 'offset'] as const)
    : (['contact', 'debounce'] as const);
  for (const field of misplaced) {
    if (point[field] !== undefined)
      say(
        `${at}/${field}`,
        `"${field}" has no meaning for ${isContact ? 'a contact' : 'an analog value'}: remove it.`,
      );
  }
  if (point.scale === 0) say(`${at}/scale`, 'A scale of 0 would make every value the same: give another.');
}

const SENSES: Partial<Record<PointDocument['signal'], readonly string[]>> = {
  'cooling-call': ['own', 'upstream'],
  'high-pressure': ['isolated', 'loop'],
  'low-pressure': ['isolated', 'loop'],
};

function checkSense(at: string, { sense, signal }: PointDocument, say: Say): void {
  const allowed = SENSES[signal] ?? ['own'];
  if (sense !== undefined && !allowed.includes(sense))
    say(`${at}/sense`, `"${sense}" isn’t possible for "${signal}": give ${allowed.join(' or ')}.`);
}

function checkAlarm(
  document: SiteDocument,
  at: string,
  kind: DeviceKind,
  point: PointDocument,
  say: Say,
): void {
  const isAlarm = point.signal === 'lockout-alarm';
  if (point.alarmOn !== undefined && !isAlarm)
    say(`${at}/alarmOn`, '"alarmOn" belongs to a lockout-alarm only: remove it.');
  if (point.of !== undefined && !(isAlarm && kind === 'site'))
    say(`${at}/of`, '"of" belongs to a lockout-alarm of the site only: remove it.');
  if (isAlarm && kind === 'site' && !point.of?.length)
    say(`${at}/of`, 'Name the units that share this alarm contact: give "of" a list of their ids.');
  const units = new Set(document.units?.map((unit) => unit.id));
  for (const [i, id] of (point.of ?? []).entries()) {
    if (!units.has(id)) say(`${at}/of/${i}`, `There is no unit "${id}".`);
  }
}
