import type { Correction } from '../proof/correction.ts';
import { pointName } from '../proof/judge.ts';
import { formatInstant } from '../base/instant.ts';
import type { Site } from '../telemetry/site.ts';
import type { PointDocument, SiteDocument } from './site-document.ts';

/**
 * A correction written into a site’s document, and what it changes in words. What isn’t in the document any more is left alone:
 * a correction of a point that has gone changes nothing.
 */
export function corrected(document: SiteDocument, correction: Correction): SiteDocument {
  switch (correction.kind) {
    case 'contact':
      return withPoint(document, correction.point, (point) => ({ ...point, contact: correction.contact }));
    case 'debounce':
      return withPoint(document, correction.point, (point) => ({ ...point, debounce: correction.seconds }));
    case 'reporting':
      return withPoint(document, correction.point, (point) => ({
        ...point,
        reporting:
          correction.seconds === null
            ? { mode: 'on-change' }
            : { mode: 'polled', seconds: correction.seconds },
      }));
    case 'swap':
      return swapped(document, correction.points);
    case 'clock':
      return withClock(document, correction);
    case 'off-delay':
      return {
        ...document,
        units: (document.units ?? []).map((unit) =>
          unit.id === correction.unit
            ? { ...unit, protection: { ...unit.protection, offDelay: correction.seconds } }
            : unit,
        ),
      };
  }
}

/** From when on it holds: how something is wired or set was so from the beginning; which input is told as which, from now on. */
export const holdsFrom = ({ kind }: Correction): 'always' | 'now' => (kind === 'swap' ? 'now' : 'always');

function withPoint(
  document: SiteDocument,
  key: string,
  change: (point: PointDocument) => PointDocument,
): SiteDocument {
  const [device, signal] = key.split('/');
  const among = (points: readonly PointDocument[]): PointDocument[] =>
    points.map((point) => (point.signal === signal ? change(point) : point));
  if (device === 'site') return document.points ? { ...document, points: among(document.points) } : document;
  const inside = <D extends { id: string; points?: PointDocument[] }>(devices: readonly D[]): D[] =>
    devices.map((one) => (one.id === device && one.points ? { ...one, points: among(one.points) } : one));
  return {
    ...document,
    ...(document.units ? { units: inside(document.units) } : {}),
    ...(document.panels ? { panels: inside(document.panels) } : {}),
    ...(document.spaces ? { spaces: inside(document.spaces) } : {}),
  };
}

function pointOf(document: SiteDocument, key: string): PointDocument | null {
  let found: PointDocument | null = null;
  withPoint(document, key, (point) => (found = point));
  return found;
}

/** Each takes what the other was told as: the names of inputs, topics or metrics change places. */
function swapped(document: SiteDocument, [a, b]: readonly [string, string]): SiteDocument {
  const [one, other] = [pointOf(document, a), pointOf(document, b)];
  if (one === null || other === null) return document;
  return withPoint(
    withPoint(document, a, (point) => toldAs(point, other, b, a)),
    b,
    (point) => toldAs(point, one, a, b),
  );
}

function toldAs(point: PointDocument, from: PointDocument, key: string, own: string): PointDocument {
  const { source: _source, sparkplug: _sparkplug, input: _input, ...rest } = point;
  if (from.source !== undefined) return { ...rest, source: from.source };
  if (from.sparkplug !== undefined) return { ...rest, sparkplug: from.sparkplug };
  const input = from.input ?? key;
  return input === own ? rest : { ...rest, input };
}

function withClock(
  document: SiteDocument,
  { gateway, addSeconds, from }: Extract<Correction, { kind: 'clock' }>,
): SiteDocument {
  const start = from === null ? 'always' : formatInstant(from);
  const gateways = document.gateways?.length ? document.gateways : [{ id: gateway }];
  return {
    ...document,
    gateways: gateways.map((one) => {
      if (one.id !== gateway) return one;
      const offsets = one.clockOffsets ?? [];
      const last = offsets.at(-1);
      const added = { from: start, seconds: (last?.seconds ?? 0) + addSeconds };
      const isSame = last !== undefined && last.from === start;
      return { ...one, clockOffsets: [...(isSame ? offsets.slice(0, -1) : offsets), added] };
    }),
  };
}

/** What it changes, as a person would say it. */
export function correctionText(site: Site, correction: Correction): { press: string; diff: string } {
  switch (correction.kind) {
    case 'contact': {
      const was = correction.contact === 'normally-open' ? 'normally-closed' : 'normally-open';
      return {
        press: `Set it to ${correction.contact}`,
        diff: `${pointName(site, correction.point)}: contact ${was} → ${correction.contact}, from the beginning of the record.`,
      };
    }
    case 'swap': {
      const [a, b] = correction.points.map((key) => pointName(site, key));
      return {
        press: 'Swap these two',
        diff: `${a} takes what is told as ${b}, and the other way round, from now on. Or change the two wires at the gateway, and leave this.`,
      };
    }
    case 'clock':
      return {
        press: `Set its clock right by ${Math.abs(correction.addSeconds)} s`,
        diff: `${correction.gateway}: ${correction.addSeconds > 0 ? '+' : '−'}${Math.abs(correction.addSeconds)} s are added to its times from ${correction.from === null ? 'the beginning' : 'shortly before this session'} on. If its own clock is set later, take this out again.`,
      };
    case 'reporting': {
      const how = correction.seconds === null ? 'at its changes' : `polled each ${correction.seconds} s`;
      return {
        press: `Record it as ${how}`,
        diff: `${pointName(site, correction.point)}: reporting → ${how}.`,
      };
    }
    case 'debounce':
      return {
        press: `Set its debounce to ${correction.seconds} s`,
        diff: `${pointName(site, correction.point)}: debounce → ${correction.seconds} s.`,
      };
    case 'off-delay': {
      const name = site.units.find(({ id }) => id === correction.unit)?.name ?? correction.unit;
      return {
        press: `Record ${correction.seconds} s`,
        diff: `${name}: off-cycle delay recorded as ${correction.seconds} s, as it was measured. Nothing is set on the unit.`,
      };
    }
  }
}
