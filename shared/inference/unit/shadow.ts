import type { Instant } from '../../base/instant.ts';
import { SECOND } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { NEVER } from '../horizon.ts';
import { edgesIn, stirredIn, type Edge, type Value } from '../track.ts';
import type { Moment } from './moment.ts';
import { referenceSays } from './shadow-reference.ts';
import { disagreement } from './shadow-event.ts';
import { DISAGREEMENTS, WAYS, type Way } from './shadow-ways.ts';
import type { Role } from './wiring.ts';

/**
 * The shadow control (handbook 4 rule 11): does the seen output contradict the reference control under every variant of its
 * settings, where no other rule explains it?
 *
 * It doesn't run one simulation along the record, which would be lost at the first thing that no wire tells. It keeps what
 * was seen last of each input and of the output, and asks after each edge what the set of controls that fit may still do
 * (shadow-ways.ts): where that is one thing alone, and the output does the other for longer than all tolerances, the
 * reference control is run on the seen inputs in every variant (shadow-reference.ts). Only if each of them contradicts is
 * it said, at the first moment, once for as long as it goes on from call to call.
 *
 * It must never lean on an input that isn't known, on a setting that is only assumed, or on what is decided later. A
 * stop that nothing explains is no contradiction: a break of call or power shorter than the resolution would do it.
 */
export interface Shadow {
  /** the last decided edge of each input, of the output and of the alarm */
  readonly now: Partial<Record<Role, Edge>>;
  /** the last call break that was seen */
  callBreak: Span | null;
  /** from when any wait that can still hold it off began, at the latest; null: nothing is known yet */
  waitFrom: Instant | null;
  suspects: Suspect[];
  /** until when each disagreement that was told has gone on */
  readonly told: Partial<Record<Way, Instant>>;
}

export interface Suspect {
  readonly way: Way;
  /** the first moment at which every control that fits does the other */
  readonly since: Span;
  /** when it has lasted beyond all tolerances; null: it has been judged */
  dueAt: Instant | null;
}

export const newShadow = (): Shadow => ({ now: {}, callBreak: null, waitFrom: null, suspects: [], told: {} });

/** A disagreement that comes again within a day is the same one going on. */
const ONE_AND_THE_SAME = 24 * 3_600 * SECOND;

/** An edge of one of the unit's tracks has been decided. */
export function shadowEdge(moment: Moment, role: Role, edge: Edge): void {
  const { shadow } = moment.belief;
  noteWaits(shadow, role, edge);
  shadow.now[role] = edge;
  const runsFromOutput = moment.wiring.runsFrom === 'compressor-output';
  if (shadow.suspects.length === 0 && !runsFromOutput) return;
  const found: Suspect[] = [];
  for (const way of WAYS) {
    const was = shadow.suspects.length > 0 ? shadow.suspects.find((one) => one.way === way) : undefined;
    const now = runsFromOutput ? DISAGREEMENTS[way].suspect(moment, edge.latest) : null;
    if (!now) {
      if (was?.dueAt === null && shadow.told[way] !== undefined) shadow.told[way] = edge.latest;
    } else if (was?.since.latest === now.since.latest) found.push(was);
    else found.push({ way, ...now });
  }
  shadow.suspects = found;
}

/** A stop, a call break, power or voltage coming back, and the first sight of anything may each have begun a wait. */
function noteWaits(shadow: Shadow, role: Role, edge: Edge): void {
  if (role === 'call' && edge.to === 0) shadow.callBreak = { earliest: edge.earliest, latest: edge.latest };
  if (!MAY_HOLD_OFF.has(role)) return;
  if (edge.from !== null && edge.to !== null && !beginsWait(role, edge.to, edge.from)) return;
  shadow.waitFrom = Math.max(shadow.waitFrom ?? edge.latest, edge.latest);
}

const MAY_HOLD_OFF: ReadonlySet<Role> = new Set(['output', 'call', 'power', 'level', 'high', 'low']);

function beginsWait(role: Role, to: Value, from: Value): boolean {
  if (role === 'output' || role === 'call') return to === 0;
  if (role === 'power') return to === 1;
  return role === 'level' && (from === 1 || from === 2);
}

/** When the next suspect has lasted long enough to be judged; NEVER if none waits. */
export function shadowDue({ suspects }: Shadow): Instant {
  let due = NEVER;
  for (const { dueAt } of suspects) if (dueAt !== null && dueAt < due) due = dueAt;
  return due;
}

/** Judge what is due at `at`. `moment` null: the unit isn't in the site any more. */
export function judgeShadow(shadow: Shadow, moment: Moment | null, at: Instant): void {
  for (const suspect of shadow.suspects) {
    if (suspect.dueAt === null || suspect.dueAt > at) continue;
    suspect.dueAt = null;
    // what isn't decided for good is no ground for a contradiction
    if (!moment || moment.tentative) continue;
    judge(moment, suspect, at);
  }
}

function judge(moment: Moment, { way, since }: Suspect, at: Instant): void {
  const { shadow } = moment.belief;
  const { roles, suspect } = DISAGREEMENTS[way];
  const still = suspect(moment, at);
  if (still?.since.latest !== since.latest || !roles.every((role) => isStill(moment, role, since, at)))
    return;
  const answers = referenceSays(moment, way, at);
  const before = shadow.told[way];
  if (answers === null) return;
  shadow.told[way] = at;
  if (before !== undefined && since.earliest - before <= ONE_AND_THE_SAME) return;
  moment.out.event(disagreement(moment, way, since, at, answers));
}

/** Nothing has moved since its decided edge, not for less than the debounce either. */
function isStill({ belief }: Moment, role: Role, since: Span, at: Instant): boolean {
  const track = belief.tracks[role];
  const from = belief.shadow.now[role]?.latest;
  if (from === undefined) return true;
  return edgesIn(track, from + 1, at - 1).length === 0 && !stirredIn(track, since.earliest, at);
}
