import { seconds, type Instant } from '../../../shared/base/instant.ts';
import { exactly } from '../../../shared/base/span.ts';
import type { ControlPhase } from '../../../shared/control/state.ts';
import type { Rehearsed, RehearsalLane } from '../../../shared/replay/rehearsal.ts';
import type { SignalName } from '../../../shared/telemetry/signals.ts';
import { drawnLength } from '../../../shared/wire/durations.ts';
import { REHEARSED_TERMS } from '../../../shared/wire/rehearsal-sentences.ts';
import type { Mark, MarkDrawing } from '../chart/marks.ts';
import type { ContactLane } from '../view/series-view.ts';

/** A rehearsal as the timing chart's lanes draw it: its instants count from the rehearsal's beginning. */
export const LANES: readonly (readonly [lane: RehearsalLane, signal: SignalName, name: string])[] = [
  ['call', 'cooling-call', 'Cooling call'],
  ['high-pressure', 'high-pressure', 'High pressure tripped'],
  ['low-pressure', 'low-pressure', 'Low pressure tripped'],
  ['output', 'compressor-output', 'Output'],
  ['alarm', 'lockout-alarm', 'Alarm'],
];

export const instantOf = (ms: number): Instant => seconds(ms / 1000);

export function contactLane({ lanes }: Rehearsed, [lane, signal, name]: (typeof LANES)[number]): ContactLane {
  const edges = lanes[lane];
  const t = edges.map(({ at }) => instantOf(at));
  return {
    kind: 'contact',
    device: 'unit',
    signal,
    name,
    t,
    earliest: t,
    v: edges.map(({ on }) => (on ? 1 : 0)),
    unknown: [],
    crowded: [],
    knownThrough: null,
  };
}

const DRAWN: Readonly<Partial<Record<ControlPhase, readonly [MarkDrawing, SignalName]>>> = {
  'off-delay': ['waiting', 'compressor-output'],
  'power-up-delay': ['waiting', 'compressor-output'],
  'soft-lockout': ['stopped-itself', 'compressor-output'],
  'undervoltage-hold': ['stopped-itself', 'compressor-output'],
  'hard-lockout': ['latched', 'lockout-alarm'],
  'no-power': ['no-power', 'compressor-output'],
};

/** The waits and lockouts, each with its length as it was kept, or as long as it has lasted. */
export function phaseMarks({ phases }: Rehearsed, until: number): Mark[] {
  return phases.flatMap(({ phase, from, due }, i): Mark[] => {
    const drawn = DRAWN[phase];
    if (!drawn || from < 0) return [];
    const next = phases[i + 1]?.from ?? null;
    const end = next ?? (due !== null && due > until ? due : null);
    const length = drawnLength(((end ?? until) - from) / 1000);
    const term = REHEARSED_TERMS[phase];
    return [
      {
        id: `${phase} ${from}`,
        signal: drawn[1],
        drawing: drawn[0],
        start: exactly(instantOf(from)),
        end: end === null ? null : exactly(instantOf(end)),
        label: `${term.toLowerCase()} ${length}`,
        short: length,
        says: `${term} ${length}`,
        event: null,
        open: false,
      },
    ];
  });
}
