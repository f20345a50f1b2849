import type { Observability } from '../../../shared/wire/observability-view.ts';
import type { WiredPoint } from '../../../shared/wire/unit-view.ts';

/** How a unit's points report, in one line, and what isn't wired: "call and output on change; voltage every 5 s". */
export function reportingLine(points: readonly WiredPoint[], unit: string): string {
  const own = points.filter((point) => point.device === unit || point.of.includes(unit));
  const byReporting = new Map<string, string[]>();
  for (const point of own) {
    const how = reportingText(point);
    byReporting.set(how, [...(byReporting.get(how) ?? []), point.name]);
  }
  const wired = [...byReporting].map(([how, names]) => `${listed(names)} ${how}`).join('; ');
  const missing = MISSING.filter(
    ({ signals }) => !signals.some((signal) => own.some((point) => point.signal === signal)),
  );
  return [wired, ...missing.map(({ says }) => says)].filter(Boolean).join(' · ');
}

export function reportingText(point: WiredPoint): string {
  return point.reporting.mode === 'on-change' ? 'on change' : `every ${point.reporting.seconds ?? '?'} s`;
}

type Known = Observability['kinds'][number]['known'];
export const KNOWN_SURELY: Readonly<Record<Known, string>> = {
  certain: 'for certain',
  probable: 'probable at best',
  possible: 'only as possible',
  'not-at-all': 'not at all',
};

export const EFFORT_WORDS: Readonly<Record<Observability['changes'][number]['effort'], string>> = {
  reporting: 'A setting of the gateway',
  recording: 'Something to write down',
  wiring: 'One wire, by a qualified person',
};

const MISSING: readonly { readonly signals: readonly string[]; readonly says: string }[] = [
  { signals: ['high-pressure', 'low-pressure'], says: 'no pressure contacts wired' },
  { signals: ['cooling-call'], says: 'no call contact wired' },
  { signals: ['lockout-alarm'], says: 'no alarm contact wired' },
  { signals: ['control-voltage'], says: 'no control voltage wired' },
  {
    signals: ['compressor-output', 'contactor-voltage', 'compressor-current'],
    says: 'nothing shows its runs',
  },
];

const listed = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
