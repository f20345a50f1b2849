import { digest } from '../base/digest.ts';
import type { Instant } from '../base/instant.ts';
import { same } from '../base/same.ts';
import type { Accepting, Alarm, AlarmChange } from './alarm.ts';
import type { Condition } from './condition.ts';
import { AT_REST, isOpen, stateOf, type Suppressor } from './life.ts';
import {
  move,
  type Asked,
  type Happening,
  type Input,
  type LifeSettings,
  type AlarmRefusal,
} from './machine.ts';
import type { AlarmRuleId } from './rules.ts';
import type { Severity } from './severity.ts';

/** One alarm on its way through one decision: its life is moved, and what happened is written down as it happens. */
export class Moving {
  alarm: Alarm;
  readonly changes: AlarmChange[] = [];
  readonly settings: LifeSettings;
  readonly #now: Instant;

  constructor(alarm: Alarm, settings: LifeSettings, now: Instant) {
    this.alarm = alarm;
    this.settings = settings;
    this.#now = now;
  }

  /** Answers why not, where it can't be. */
  ask(asked: Asked | Accepting): AlarmRefusal | null {
    if (asked.kind === 'accept') return this.#accept(asked);
    const why = 'reason' in asked ? asked.reason : asked.kind === 'note' ? asked.text : null;
    const refused = this.#move(asked, { by: asked.by, why });
    if (!refused && asked.kind === 'acknowledge' && this.alarm.owner === null)
      this.alarm = { ...this.alarm, owner: asked.by, ownerId: asked.person ?? null };
    return refused;
  }

  /** Acknowledges what nobody has acknowledged, and takes what somebody else has. Once more by its owner changes nothing. */
  #accept({ by, person, at }: Accepting): AlarmRefusal | null {
    const { life, owner, ownerId = null } = this.alarm;
    const refused = this.#move({ kind: 'acknowledge', by, at }, { by });
    const isHeld =
      refused === 'already-acknowledged' || (life.latched && refused === 'nothing-to-acknowledge');
    if (refused && !isHeld) return refused;
    const isOwn = person === null ? ownerId === null && owner === by : ownerId === person;
    if (refused && !isOwn) this.#write('taken-over', { by, why: owner });
    if (!isOwn) this.alarm = { ...this.alarm, owner: by, ownerId: person };
    return null;
  }

  time(): void {
    this.#move({ kind: 'time', now: this.#now }, {});
  }

  suppress(by: Suppressor | null): void {
    this.#move({ kind: 'suppress', by }, { why: by && (by.kind === 'alarm' ? by.key : `work ${by.id}`) });
  }

  withdraw(why: string): void {
    this.#move({ kind: 'withdrawn' }, { why });
  }

  /** What stands, or when it ceased to. `gone`: the events that it leant on may have been replaced. */
  observe(condition: Condition | null, through: Instant, severity: Severity): void {
    if (condition) this.#takeFacts(condition);
    const stands = condition !== null && condition.end === null;
    const since = stands ? condition.since.latest : null;
    const until = condition?.end?.latest ?? null;
    this.#move({ kind: 'observed', since, until, through, severity }, { eventAt: since ?? until });
  }

  note(what: AlarmChange['what'], why: string | null): void {
    this.#write(what, { why });
  }

  #takeFacts({ since, end, cause, certainty, causeCertainty, events, members }: Condition): void {
    const { alarm } = this;
    const said = saidBefore(alarm, { since, cause, certainty, events });
    this.alarm = { ...alarm, since, end, cause, certainty, causeCertainty, events, members };
    if (same(this.alarm, alarm)) this.alarm = alarm;
    else if (said && isOpen(alarm.life)) this.#write(said.what, { why: said.why });
  }

  #move(input: Input, said: Partial<AlarmChange>): AlarmRefusal | null {
    const { life, happened, refused } = move(this.alarm.life, input, this.settings);
    if (refused) return refused;
    if (!same(life, this.alarm.life)) this.alarm = { ...this.alarm, life };
    for (const what of happened) {
      if (what === 'raised-again') this.alarm = { ...this.alarm, occurrences: this.alarm.occurrences + 1 };
      this.#write(what, isOwn(what) ? said : {});
    }
    return null;
  }

  #write(what: AlarmChange['what'], { by = null, why = null, eventAt = null }: Partial<AlarmChange>): void {
    const { id, events, life } = this.alarm;
    const state = stateOf(life);
    const { severity } = life;
    this.changes.push({ alarm: id, what, at: this.#now, eventAt, by, why, events, state, severity });
  }
}

/** `cleared` and a raise out of hiding follow from what was done; nobody did them. */
const isOwn = (what: Happening): boolean => what !== 'cleared';

/** What a person would notice of an amended or replaced event; growth in order is no news. */
function saidBefore(
  before: Alarm,
  now: Pick<Alarm, 'since' | 'cause' | 'certainty' | 'events'>,
): { readonly what: 'replaced' | 'amended'; readonly why: string } | null {
  const lasting = before.events.filter((id) => now.events.includes(id));
  if (lasting.length === 0)
    return before.end === null ? { what: 'replaced', why: `in place of ${before.events.join(', ')}` } : null;
  if (before.cause !== now.cause && before.cause !== null && before.cause !== 'unknown')
    return { what: 'amended', why: `cause was ${before.cause}` };
  if (before.certainty !== now.certainty) return { what: 'amended', why: `it was ${before.certainty}` };
  return null;
}

/** An alarm that isn't one yet: kept only if something comes of it. */
export const unraised = (site: string, condition: Condition, now: Instant): Alarm => ({
  id: digest(site, condition.key, condition.events[0] ?? ''),
  site,
  key: condition.key,
  rule: condition.rule as AlarmRuleId,
  subject: condition.subject,
  life: { ...AT_REST, severity: condition.severity },
  since: condition.since,
  end: condition.end,
  cause: condition.cause,
  certainty: condition.certainty,
  causeCertainty: condition.causeCertainty,
  events: condition.events,
  members: condition.members,
  raisedAt: now,
  occurrences: 1,
  owner: null,
});
