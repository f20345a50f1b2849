import { seconds, type Instant } from '../base/instant.ts';
import { control, type Control } from '../control/control.ts';
import type { ControlSettings } from '../control/settings.ts';
import type { ControlChange, ControlInputs, ControlPhase, ControlState } from '../control/state.ts';
import { atInstants, type Instantly, cornersOf } from './corners.ts';
import {
  AWAY,
  controlInputs,
  INPUT_ROLES,
  LOW,
  valuesAt,
  type InputRole,
  type Inputs,
  type InputValues,
} from './inputs.ts';
import { edgesBetween } from './seen-history.ts';
import type { Segment } from './segments.ts';

/** One control through one exact history of its inputs: what it did, in order, and the phases it went through. */
export interface Course {
  readonly changes: readonly ControlChange[];
  /** each with the instant from which it holds; the first from the segment's begin */
  readonly phases: readonly { readonly at: Instant; readonly phase: ControlPhase }[];
}

/**
 * Every course that the intervals of the inputs and the settings left open allow, the middle history under the reference
 * model's ways first. At most 37 corners of the inputs for each of the `settings`.
 */
export function coursesOf(inputs: Inputs, segment: Segment, settings: readonly ControlSettings[]): Course[] {
  const changing = INPUT_ROLES.filter((role) => edgesOf(inputs, role, segment).length > 0);
  const corners = cornersOf(changing);
  return mattering(settings, inputs, segment).flatMap((one) => {
    const model = control(one);
    return corners.map((corner) => {
      const script = changing.map(
        (role) => [role, atInstants(edgesOf(inputs, role, segment), corner[role]!)] as const,
      );
      return driveOne(model, inputs, segment, script);
    });
  });
}

/** Ways that can't show in this segment are all one: those of pressure stops where no switch opens, of low voltage likewise. */
function mattering(
  settings: readonly ControlSettings[],
  inputs: Inputs,
  segment: Segment,
): readonly ControlSettings[] {
  const has = (role: InputRole, value: number) =>
    valuesAt(inputs, segment.from)[role] === value ||
    edgesOf(inputs, role, segment).some(({ to }) => to === value);
  const { lowPressureRetry, stopsCounted, undervoltageDelayFrom } = settings[0]!;
  const calm = {
    ...(has('high', 1) || has('low', 1) ? {} : { lowPressureRetry, stopsCounted }),
    ...(has('supply', LOW) ? {} : { undervoltageDelayFrom }),
  };
  const distinct = settings.map((one) => ({ ...one, ...calm }));
  return [...new Map(distinct.map((one) => [JSON.stringify(one), one])).values()];
}

/** What may lie within the segment; the power's return with which it begins is part of it, the next one's isn't. */
function edgesOf(inputs: Inputs, role: InputRole, { from, to, begins }: Segment) {
  const edges = inputs.edges[role];
  if (!edges) return [];
  const after = role === 'supply' && begins === 'power-back' ? from - 1 : from;
  return edgesBetween(edges, after, to - 1).filter((edge) => edge.to !== null && edge.from !== null);
}

type Script = readonly (readonly [InputRole, readonly Instantly[]])[];

function driveOne(model: Control, inputs: Inputs, segment: Segment, script: Script): Course {
  const { from, to } = segment;
  let values = valuesFrom(inputs, segment);
  let state = beginning(model, controlInputs(inputs, values), segment);
  const changes: ControlChange[] = [];
  const phases: Course['phases'][number][] = [{ at: from, phase: state.phase }];
  const take = (at: Instant): void => {
    const step = model.step(state, controlInputs(inputs, values), at);
    state = step.state;
    changes.push(...step.changes);
    if (phases.at(-1)!.phase !== state.phase) phases.push({ at, phase: state.phase });
  };
  const advance = (until: Instant): void => {
    for (let due = model.deadline(state); due !== null && due < until; due = model.deadline(state)) take(due);
  };
  for (const { at, changed } of inOrder(script, from)) {
    if (at >= to) break;
    advance(at);
    values = { ...values, ...changed };
    take(at);
  }
  advance(to);
  return { changes, phases };
}

function valuesFrom(inputs: Inputs, { from, begins }: Segment): InputValues {
  const values = valuesAt(inputs, from);
  return begins === 'power-back' ? { ...values, supply: AWAY } : values;
}

interface Together {
  readonly at: Instant;
  readonly changed: Partial<Record<InputRole, number>>;
}

/** Every input's edges in one time order; those of one instant together, as the control takes them. */
function inOrder(script: Script, from: Instant): Together[] {
  const all = script
    .flatMap(([role, edges]) =>
      edges.map(({ at, to }) => ({ at: Math.max(from, at), changed: { [role]: to } })),
    )
    .sort((a, b) => a.at - b.at);
  const found: Together[] = [];
  for (const { at, changed } of all) {
    const last = found.at(-1);
    if (last?.at === at) Object.assign(last.changed, changed);
    else found.push({ at, changed });
  }
  return found;
}

/** Long enough before for everything to be forgotten. */
const LONG = seconds(3600);

/** The control as it stands at the segment's begin; running, it started there, which is no start of the segment's. */
function beginning(model: Control, inputs: ControlInputs, { from, begins }: Segment): ControlState {
  const calm = model.settled(from - LONG);
  if (begins !== 'power-back') return model.step(calm, inputs, from).state;
  const away = { ...inputs, controlVoltage: 0 };
  return model.step(model.step(calm, away, from - LONG / 2).state, away, from).state;
}
