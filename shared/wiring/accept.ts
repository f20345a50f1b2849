import type { SiteDocument } from '../wire/site-document.ts';
import type { Proposal } from './pattern.ts';

type PointDocument = NonNullable<SiteDocument['points']>[number];

/** A line of what would change. */
export interface Change {
  readonly device: string;
  readonly signal: string;
  readonly source: string;
  /** it is mapped already, to what is named here: it would be another */
  readonly instead: string | null;
}

/** The point as it stands in the document for what was heard. On change where a contact, else polled as it was heard. */
function pointOf({ heard, signal }: Proposal): PointDocument {
  const source =
    heard.kind === 'sparkplug'
      ? { sparkplug: heard.topic }
      : {
          source: {
            topic: heard.topic,
            ...(heard.pointer === '' ? {} : { pointer: heard.pointer }),
            ...(heard.time === null ? {} : { time: heard.time }),
          },
        };
  // gateways’ own `life` is no point of a document, and nobody is offered it
  return { signal: signal as PointDocument['signal'], ...source, reporting: reportingOf(heard) };
}

/** Polled about as often as it was heard; a contact heard each time that it changes reports on change. */
function reportingOf({
  form,
  numbers,
  count,
  firstAt,
  lastAt,
}: Proposal['heard']): NonNullable<PointDocument['reporting']> {
  const seconds = count < 2 ? null : (lastAt - firstAt) / 1e6 / (count - 1);
  const isOnChange = form === 'contact' && (numbers === null || numbers.steps >= (count - 1) * 0.8);
  if (isOnChange || seconds === null || seconds <= 0) return { mode: 'on-change' };
  return {
    mode: 'polled',
    seconds: Math.max(0.1, seconds < 2 ? Number(seconds.toFixed(1)) : Math.round(seconds)),
  };
}

const sourceText = (point: PointDocument): string =>
  point.sparkplug ?? (point.source ? `${point.source.topic}${point.source.pointer ?? ''}` : 'its own topic');

/** The document with these points in it: each in the place of the one that its device had, or behind the others. */
export function accept(
  document: SiteDocument,
  proposals: readonly Proposal[],
): { readonly document: SiteDocument; readonly changes: readonly Change[] } {
  const changes: Change[] = [];
  const withPoints = <D extends { readonly id?: string; readonly points?: PointDocument[] }>(
    holder: D,
    id: string,
  ): D => {
    const own = proposals.filter(({ device }) => device === id);
    if (own.length === 0) return holder;
    const points = [...(holder.points ?? [])];
    for (const proposal of own) {
      const point = pointOf(proposal);
      const at = points.findIndex(({ signal }) => signal === proposal.signal);
      const before = at < 0 ? null : points[at]!;
      changes.push({
        ...{ device: id, signal: proposal.signal, source: sourceText(point) },
        instead: before && sourceText(before),
      });
      // what a person has set of it stays: polarity, sense, scale
      if (before)
        points[at] = {
          ...withoutSource(before),
          ...point,
          reporting: before.reporting ?? reportingOf(proposal.heard),
        };
      else points.push(point);
    }
    return { ...holder, points };
  };
  const changed: SiteDocument = {
    ...withPoints(document, 'site'),
    ...(document.units ? { units: document.units.map((unit) => withPoints(unit, unit.id)) } : {}),
    ...(document.panels ? { panels: document.panels.map((panel) => withPoints(panel, panel.id)) } : {}),
    ...(document.spaces ? { spaces: document.spaces.map((space) => withPoints(space, space.id)) } : {}),
  };
  return { document: changed, changes };
}

const withoutSource = ({ source: _, sparkplug: __, ...point }: PointDocument): PointDocument => point;
