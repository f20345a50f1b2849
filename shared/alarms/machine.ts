import { seconds, type Instant } from '../base/instant.ts';
import { isActive, isHidden, isOpen, stateOf, type AlarmLife, type Suppressor } from './life.ts';
import { isWorse, type Severity } from './severity.ts';

/**
 * One step of an alarm's life: pure, it returns the new life and what happened, and makes nothing happen. States and
 * regions in life.ts, the same transitions as a table with their sources in transitions.ts. What a person asks and can't have is
 * a named refusal.
 */
export type Input = Observation | Asked;

export type Observation =
  | {
      readonly kind: 'observed';
      /** since when the condition stands; null: it doesn't */
      readonly since: Instant | null;
      /** where it doesn't: since when not, if that is known */
      readonly until: Instant | null;
      /** through when events are known, in event time: delays are over by this */
      readonly through: Instant;
      readonly severity: Severity;
    }
  /** better data say that the condition never was */
  | { readonly kind: 'withdrawn' }
  | { readonly kind: 'suppress'; readonly by: Suppressor | null }
  /** the server's clock */
  | { readonly kind: 'time'; readonly now: Instant };

export type Asked = Readonly<{ by: string; at: Instant }> &
  /** `person`: the id of whoever asks, where that is a person of ours */
  (
    | { readonly kind: 'acknowledge'; readonly person?: string | null }
    | { readonly kind: 'note'; readonly text: string }
    | { readonly kind: 'shelve'; readonly until: Instant; readonly reason: string }
    | { readonly kind: 'unshelve' }
    | { readonly kind: 'out-of-service'; readonly role: string; readonly reason: string }
    | { readonly kind: 'return-to-service' }
    | { readonly kind: 'close'; readonly reason: string }
  );

export const HAPPENINGS = [
  'raised',
  'raised-again',
  'returned',
  'cleared',
  'made-worse',
  'made-milder',
  'withdrawn',
  'acknowledged',
  'noted',
  'shelved',
  'unshelved',
  'shelf-ended',
  'suppressed',
  'suppressor-changed',
  'unsuppressed',
  'taken-out-of-service',
  'returned-to-service',
  'closed',
] as const;
export type Happening = (typeof HAPPENINGS)[number];

export type AlarmRefusal =
  | 'already-acknowledged'
  | 'nothing-to-acknowledge'
  | 'hidden'
  | 'already-shelved'
  | 'not-shelved'
  | 'shelf-too-long'
  | 'already-out-of-service'
  | 'not-out-of-service'
  | 'still-true'
  | 'not-latched'
  | 'at-rest';

/** Delays in seconds of event time. */
export interface LifeSettings {
  readonly onDelaySeconds: number;
  readonly offDelaySeconds: number;
  readonly latches: boolean;
}

export interface Moved {
  readonly life: AlarmLife;
  readonly happened: readonly Happening[];
  readonly refused: AlarmRefusal | null;
}

/** A shelf is time-limited (ISA-18.2); seven days at most [from memory]. */
export const LONGEST_SHELF = seconds(7 * 86_400);

export function move(life: AlarmLife, input: Input, settings: LifeSettings): Moved {
  const moved = moveRegion(life, input, settings);
  if (moved.refused) return moved;
  return settled(life, moved, settings);
}

function moveRegion(life: AlarmLife, input: Input, settings: LifeSettings): Moved {
  switch (input.kind) {
    case 'observed':
      return observe(life, input, settings);
    case 'withdrawn':
      return withdraw(life);
    case 'suppress':
      return suppress(life, input.by);
    case 'time':
      return life.shelved && life.shelved.until <= input.now
        ? went({ ...life, shelved: null }, 'shelf-ended')
        : same(life);
    default:
      return isOpen(life) || input.kind === 'note' ? ask(life, input) : refuse(life, 'at-rest');
  }
}

const same = (life: AlarmLife): Moved => ({ life, happened: [], refused: null });
const went = (life: AlarmLife, ...happened: Happening[]): Moved => ({ life, happened, refused: null });
const refuse = (life: AlarmLife, refused: AlarmRefusal): Moved => ({ life, happened: [], refused });

function observe(
  life: AlarmLife,
  seen: Extract<Observation, { kind: 'observed' }>,
  settings: LifeSettings,
): Moved {
  const { since, until, through } = seen;
  if (since !== null) {
    if (isActive(life)) return withSeverity({ ...life, condition: 'present', turnedAt: null }, seen.severity);
    if (through < since + seconds(settings.onDelaySeconds))
      return same({ ...life, condition: 'coming', turnedAt: since });
    return raise(life, seen.severity, settings);
  }
  if (!isActive(life)) return same({ ...life, condition: 'absent', turnedAt: null });
  const from = life.condition === 'going' ? life.turnedAt! : (until ?? through);
  if (through < from + seconds(settings.offDelaySeconds))
    return same({ ...life, condition: 'going', turnedAt: from });
  return went({ ...life, condition: 'absent', turnedAt: null }, 'returned');
}

function raise(life: AlarmLife, severity: Severity, { latches }: LifeSettings): Moved {
  const again = isOpen(life) && (life.unseen || life.latched);
  const raised: AlarmLife = {
    ...life,
    condition: 'present',
    turnedAt: null,
    severity,
    acknowledged: null,
    unseen: true,
    // what something else explains stays no longer than it is true
    latched: life.latched || (latches && life.suppressed === null),
  };
  return went(raised, again ? 'raised-again' : 'raised');
}

function withSeverity(life: AlarmLife, severity: Severity): Moved {
  if (severity === life.severity) return same(life);
  if (!isWorse(severity, life.severity)) return went({ ...life, severity }, 'made-milder');
  // what somebody acknowledged was less bad: it is to be seen again
  return went({ ...life, severity, acknowledged: null, unseen: true }, 'made-worse');
}

function withdraw(life: AlarmLife): Moved {
  if (!isActive(life) && !life.latched) return same({ ...life, condition: 'absent', turnedAt: null });
  return went({ ...life, condition: 'absent', turnedAt: null, latched: false }, 'withdrawn');
}

function suppress(life: AlarmLife, by: Suppressor | null): Moved {
  if (by === null) return life.suppressed ? went({ ...life, suppressed: null }, 'unsuppressed') : same(life);
  if (life.suppressed === null) return went({ ...life, suppressed: by }, 'suppressed');
  return isSame(life.suppressed, by) ? same(life) : went({ ...life, suppressed: by }, 'suppressor-changed');
}

const isSame = (a: Suppressor, b: Suppressor): boolean =>
  a.kind === 'alarm' ? b.kind === 'alarm' && a.key === b.key : b.kind === 'work' && a.id === b.id;

function ask(life: AlarmLife, asked: Asked): Moved {
  const mark = { by: asked.by, at: asked.at };
  switch (asked.kind) {
    case 'acknowledge':
      if (isHidden(life)) return refuse(life, 'hidden');
      if (!life.unseen)
        return refuse(life, life.acknowledged ? 'already-acknowledged' : 'nothing-to-acknowledge');
      return went({ ...life, unseen: false, acknowledged: mark }, 'acknowledged');
    case 'note':
      return went(life, 'noted');
    case 'shelve':
      if (life.outOfService || life.suppressed) return refuse(life, 'hidden');
      if (life.shelved) return refuse(life, 'already-shelved');
      if (asked.until - asked.at > LONGEST_SHELF || asked.until <= asked.at)
        return refuse(life, 'shelf-too-long');
      return went({ ...life, shelved: { ...mark, until: asked.until, reason: asked.reason } }, 'shelved');
    case 'unshelve':
      return life.shelved ? went({ ...life, shelved: null }, 'unshelved') : refuse(life, 'not-shelved');
    case 'out-of-service':
      if (life.outOfService) return refuse(life, 'already-out-of-service');
      return went(
        { ...life, outOfService: { ...mark, role: asked.role, reason: asked.reason } },
        'taken-out-of-service',
      );
    case 'return-to-service':
      return life.outOfService
        ? went({ ...life, outOfService: null }, 'returned-to-service')
        : refuse(life, 'not-out-of-service');
    case 'close':
      return close(life);
  }
}

function close(life: AlarmLife): Moved {
  if (isActive(life)) return refuse(life, 'still-true');
  if (!life.latched) return refuse(life, 'not-latched');
  return went({ ...life, latched: false, unseen: false }, 'closed');
}

/**
 * What follows from any move. What comes out of hiding and is still true is announced anew; what only its latch keeps is
 * announced if nobody saw it before. An alarm at rest is cleared.
 */
function settled(before: AlarmLife, moved: Moved, { latches }: LifeSettings): Moved {
  let { life } = moved;
  const happened = [...moved.happened];
  if (isHidden(before) && !isHidden(life)) {
    const active = isActive(life);
    const unseen = active || (life.latched && life.unseen);
    const latched = life.latched || (active && latches);
    life = { ...life, unseen, latched, acknowledged: active ? null : life.acknowledged };
    if (unseen) happened.push('raised');
  }
  // an explained alarm that went as it came never needed anybody
  if (life.suppressed && !isActive(life) && !life.latched && life.unseen) life = { ...life, unseen: false };
  if (stateOf(before) !== 'A' && stateOf(life) === 'A') happened.push('cleared');
  return { life, happened, refused: null };
}
