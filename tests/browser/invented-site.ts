import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { SeriesAnswer } from '../../shared/wire/series.ts';
import type { RejectedList } from '../../shared/wire/service.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import type { SiteStatus, Strip } from '../../shared/wire/status.ts';
import { at, board, event, NOW } from './invented.ts';
import { series as unitSeries } from './invented-unit.ts';

/** Invented answers about whole sites: status, document, series of each unit's runs, events. */
const site = (id: string) => board().sites.find((each) => each.id === id)!;
const idOf = (url: URL): string => url.pathname.split('/')[3]!;

export const status = (url: URL): SiteStatus => ({
  ...site(idOf(url)),
  address: '12 Harrow Lane, Peoria',
  serverTime: at(0),
  epoch: 'invented',
  revision: 1,
});

export function document(url: URL): SiteDocument {
  const found = site(idOf(url));
  return {
    name: found.name,
    timeZone: found.timeZone,
    gateways: found.gateways.map(({ id }) => ({ id })),
    spaces: found.spaces.map(({ id, name }) => ({
      id,
      name,
      limits: { temperature: 30 },
      points: [{ signal: 'space-temperature' }],
    })),
    panels: found.panels.map(({ id, name }) => ({ id, name, points: [{ signal: 'line-voltage' }] })),
    units: found.units.map(({ id, name, space }, i) => ({
      id,
      name,
      space,
      panel: 'panel-a',
      protection: i % 3 ? { offDelay: 210 } : {},
      points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }],
    })),
  };
}

const seconds = (text: string): number => (Date.parse(text) * 1000 - NOW) / 1e6;

export function series(url: URL): SeriesAnswer {
  if (url.searchParams.get('site') === 'pine-ridge') return unitSeries(url);
  const device = url.searchParams.get('device')!;
  const unit = site('harrow-lane').units.find(({ id }) => id === device);
  const answer = {
    site: 'harrow-lane',
    device,
    from: url.searchParams.get('from')!,
    to: url.searchParams.get('to')!,
    width: 1000,
  };
  if (unit?.strip) return { ...answer, series: [output(device, unit.strip)] };
  const t = Array.from({ length: 1500 }, (_, i) => -7200 + i * 4.8);
  const v = t.map((s) => 239.5 + Math.sin(s * 12.9) * 0.7 - (s > -124 && s < -64 ? 239 : 0));
  const line = {
    kind: 'analog' as const,
    device,
    signal: 'line-voltage' as const,
    name: 'line voltage',
    measure: 'V' as const,
    unknown: [],
    breakAfter: 15,
  };
  return { ...answer, series: [{ ...line, t: t.map(at), min: v, max: v, mean: v, last: v }] };
}

function output(device: string, strip: Strip): SeriesAnswer['series'][number] {
  const steps: [number, 0 | 1][] = [[-7201, 0]];
  for (const { phase, start, end } of strip.phases)
    if (phase === 'running') steps.push([seconds(strip.from) + start, 1], [seconds(strip.from) + end, 0]);
  if (steps.at(-1)![0] >= -1) steps.pop();
  const blind = strip.phases
    .filter(({ phase }) => phase === 'not-known')
    .map(({ start, end }) => ({ from: at(start - 7200), to: at(end - 7200) }));
  return {
    kind: 'contact',
    device,
    signal: 'compressor-output',
    name: 'compressor output',
    unknown: blind,
    crowded: [],
    knownThrough: at(-1),
    t: steps.map(([t]) => at(t)),
    earliest: steps.map(([t]) => at(t)),
    v: steps.map(([, v]) => v),
  };
}

export const events = (): EventAnswer[] =>
  site('harrow-lane').units.flatMap((unit) =>
    unit.strip!.phases.flatMap(({ phase, start, end }, i) => {
      const kind = (
        {
          running: 'compressor-run',
          'soft-lockout': 'soft-lockout',
          'undervoltage-hold': 'undervoltage-hold',
          'no-power': 'power-loss',
        } as const
      )[phase as 'running'];
      if (!kind) return [];
      const point = (s: number) => ({ earliest: at(s - 7200), latest: at(s - 7200) });
      const cause =
        kind === 'compressor-run' ? 'call-ended' : kind === 'soft-lockout' ? 'low-pressure' : null;
      return [
        event({
          id: `${unit.id}-${i}`,
          site: 'harrow-lane',
          unit: unit.id,
          space: unit.space,
          kind,
          cause,
          causeCertainty: cause ? 'probable' : null,
          start: point(start),
          end: end >= 7200 ? null : point(end),
          candidates: [],
          evidence: [],
        }),
      ];
    }),
  );

export const rejected = (): RejectedList => ({
  cursor: null,
  items: [
    {
      id: '3',
      t: at(-40),
      topic: 'holdoff/harrow-lane/room-99/cooling-call',
      reason: 'unknown-point',
      detail: 'no device "room-99" at "harrow-lane"',
      payload: '{"t":"2026-03-03T20:06:52Z","v":1}',
      encoding: 'utf-8',
      payloadBytes: 33,
    },
    {
      id: '2',
      t: at(-900),
      topic: 'holdoff/pine-ridge/unit-1/control-voltage',
      reason: 'future',
      detail: 'timed 1 h 12 min ahead',
      payload: '{"t":"2026-03-03T21:19:00Z","v":26.1}',
      encoding: 'utf-8',
      payloadBytes: 37,
    },
    {
      id: '1',
      t: at(-3000),
      topic: 'holdoff/pine-ridge/unit-1/control-voltage',
      reason: 'not-json',
      detail: 'the payload isn’t JSON',
      payload: 'ff00a1',
      encoding: 'hex',
      payloadBytes: 3,
    },
  ],
});
