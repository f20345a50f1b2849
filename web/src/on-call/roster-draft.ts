import type { RosterDocument } from '../../../shared/wire/on-call-document.ts';

/** A roster while somebody changes it: every field is what a form holds. */
export interface LayerDraft {
  name: string;
  people: string[];
  startsOn: string;
  endsOn: string;
  handOver: string;
  days: number;
  /** hours of the day; empty: at all hours */
  from: string;
  to: string;
  weekdays: number[];
  holidays: 'as-ever' | 'not' | 'only';
}

export interface RosterDraft {
  name: string;
  zone: string;
  layers: LayerDraft[];
  holidays: string[];
}

export const WEEKDAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];
const EVERY_DAY = [1, 2, 3, 4, 5, 6, 7];

const HAND_OVER = '08:00';

/** The day on which a new layer begins, so that somebody is on call at once. `wall`: `2026-03-03T14:07:32`. */
export function latestHandOver(wall: string): string {
  const [day = '', time = ''] = wall.split('T');
  if (time >= HAND_OVER) return day;
  return new Date(Date.parse(`${day}T00:00:00Z`) - DAY_MS).toISOString().slice(0, 10);
}
const DAY_MS = 86_400_000;

export const newLayer = (startsOn: string): LayerDraft => ({
  name: 'first',
  people: [],
  startsOn,
  endsOn: '',
  handOver: HAND_OVER,
  days: 7,
  from: '',
  to: '',
  weekdays: EVERY_DAY,
  holidays: 'as-ever',
});

export const draftOf = (name: string, document: RosterDocument): RosterDraft => ({
  name,
  zone: document.zone,
  holidays: [...(document.holidays ?? [])],
  layers: document.layers.map((layer) => ({
    name: layer.name,
    people: [...layer.people],
    startsOn: layer.startsOn,
    endsOn: layer.endsOn ?? '',
    handOver: layer.handOver,
    days: layer.days,
    from: layer.hours?.from ?? '',
    to: layer.hours?.to ?? '',
    weekdays: [...(layer.hours?.weekdays ?? EVERY_DAY)],
    holidays: layer.holidays ?? 'as-ever',
  })),
});

/** Hours count where both ends are given; days of the week alone are hours from midnight to midnight. */
export const documentOf = ({ zone, layers, holidays }: RosterDraft): RosterDocument => ({
  zone,
  holidays: [...holidays],
  layers: layers.map(({ from, to, weekdays, endsOn, people, ...layer }) => ({
    ...layer,
    people: [...people],
    endsOn: endsOn === '' ? null : endsOn,
    hours:
      from !== '' && to !== ''
        ? { weekdays: [...weekdays], from, to }
        : weekdays.length < EVERY_DAY.length
          ? { weekdays: [...weekdays], from: '00:00', to: '00:00' }
          : null,
  })),
});
