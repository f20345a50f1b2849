import { seconds, type Instant } from '../base/instant.ts';
import type { Alarm, AlarmChange, Command, Work } from './alarm.ts';
import type { Condition } from './condition.ts';
import type { Explanation } from './explain.ts';
import type { Given, SiteAlarms } from './given.ts';
import { isActive, isOpen, type Suppressor } from './life.ts';
import type { AlarmRefusal } from './machine.ts';
import { Moving, unraised } from './one-alarm.ts';
import { ALARM_RULES } from './rules.ts';
import { isWorse, worst, type Severity } from './severity.ts';
import { tunedFor } from './tuning.ts';
import { workOn, type WorkRefusal } from './work.ts';

/** So lately over that what latches is still raised, at once to be closed by a person [from memory]. */
const JUST_NOW = seconds(60);

interface Situation {
  readonly conditions: readonly Condition[];
  readonly explained: ReadonlyMap<string, Explanation>;
  readonly works: readonly Work[];
  readonly held: ReadonlySet<string>;
}

/** The alarms of a site while a decision is made about them. */
export class SiteDecision {
  readonly #given: Given;
  readonly #situation: Situation;
  readonly #before: ReadonlyMap<string, Alarm>;
  readonly #moving = new Map<string, Moving>();
  readonly #conditions: ReadonlyMap<string, Condition>;

  constructor(state: SiteAlarms, given: Given, situation: Situation) {
    this.#given = given;
    this.#situation = situation;
    this.#before = new Map(state.alarms.map((alarm) => [alarm.key, alarm]));
    this.#conditions = new Map(situation.conditions.map((one) => [one.key, one]));
    for (const alarm of state.alarms) this.#take(alarm);
    for (const condition of situation.conditions)
      if (condition.rule in ALARM_RULES && !this.#moving.has(condition.key))
        this.#take(unraised(given.configuration.site.id, condition, given.now));
  }

  #take(alarm: Alarm): void {
    const settings = tunedFor(alarm.rule, alarm.subject.unit, this.#given.configuration.tuning);
    this.#moving.set(alarm.key, new Moving(alarm, settings, this.#given.now));
  }

  ask(commands: readonly Command[], outcomes: Map<string, AlarmRefusal | WorkRefusal | null>): void {
    for (const command of commands) {
      if (command.kind !== 'alarm') continue;
      const found = [...this.#moving.values()].find(({ alarm }) => alarm.id === command.alarm);
      outcomes.set(
        command.id,
        found && this.#before.has(found.alarm.key) ? found.ask(command.asked) : 'at-rest',
      );
      if (found && command.asked.kind === 'close' && outcomes.get(command.id) === null)
        this.#closeExplained(found, command.asked);
    }
  }

  /** What a closed alarm explained and is over as well is closed with it. */
  #closeExplained(root: Moving, { by, at }: { by: string; at: Instant }): void {
    for (const one of this.#moving.values()) {
      const { suppressed, latched } = one.alarm.life;
      if (suppressed?.kind !== 'alarm' || suppressed.key !== root.alarm.key || !latched) continue;
      one.ask({ kind: 'close', by, at, reason: 'closed with what explains it' });
    }
  }

  /** Consequences first, so that a root knows how bad the worst of them is. */
  observe(): void {
    const { explained } = this.#situation;
    const depth = (key: string): number => {
      const by = explained.get(key)?.by;
      return by === undefined ? 0 : 1 + depth(by);
    };
    const deepestFirst = [...this.#moving.values()].toSorted(
      (a, b) => depth(b.alarm.key) - depth(a.alarm.key) || (a.alarm.key < b.alarm.key ? -1 : 1),
    );
    for (const one of deepestFirst) this.#observeOne(one);
  }

  #observeOne(one: Moving): void {
    const { through } = this.#given;
    const { key } = one.alarm;
    one.time();
    const found = this.#conditions.get(key) ?? null;
    const condition = found && this.#situation.held.has(key) ? null : found;
    const suppressor = this.#suppressorOf(one);
    if (suppressor) one.suppress(suppressor);
    if (!found && isActive(one.alarm.life) && this.#isWithdrawn(one.alarm))
      one.withdraw('better data show that it never was');
    const severity = this.#severityOf(one, found);
    this.#observeMoment(one, condition, severity);
    one.observe(condition, through, severity);
    if (!suppressor) one.suppress(null);
  }

  /** What latches is raised although it is over, where it was over only just now, and long enough to count. */
  #observeMoment(one: Moving, condition: Condition | null, severity: Severity): void {
    const { through, added } = this.#given;
    if (!condition?.end || !one.settings.latches || isActive(one.alarm.life)) return;
    const isNew = condition.events.some((id) => added.includes(id));
    if (!isNew || through - condition.end.latest > JUST_NOW) return;
    one.observe({ ...condition, end: null }, condition.end.latest, severity);
  }

  #severityOf({ alarm }: Moving, condition: Condition | null): Severity {
    const own = condition?.severity ?? alarm.life.severity;
    if (alarm.life.shelved || alarm.life.outOfService) return own;
    const consequences = [...this.#moving.values()].filter(
      ({ alarm: { life } }) =>
        life.suppressed?.kind === 'alarm' && life.suppressed.key === alarm.key && isActive(life),
    );
    return worst(
      own,
      consequences.map((one) => one.alarm.life.severity),
    );
  }

  #suppressorOf({ alarm }: Moving): Suppressor | null {
    const work = workOn(
      this.#situation.works,
      alarm.subject.kind === 'unit' ? alarm.subject.unit : null,
      this.#given.now,
    );
    if (work) return { kind: 'work', id: work.id };
    const by = this.#explainedBy(alarm);
    if (by === null) return null;
    const root = this.#moving.get(by)?.alarm.life;
    const severity = this.#conditions.get(alarm.key)?.severity ?? alarm.life.severity;
    const isHiddenByPerson = root && (root.shelved || root.outOfService);
    return isHiddenByPerson && isWorse(severity, root.severity) ? null : { kind: 'alarm', key: by };
  }

  /** What is over and kept only by its latch stays under what explained it while that is kept too. */
  #explainedBy({ key, life }: Alarm): string | null {
    const by = this.#situation.explained.get(key)?.by ?? null;
    if (by !== null) return by;
    if (life.suppressed?.kind !== 'alarm' || this.#conditions.get(key)?.end === null) return null;
    const root = this.#moving.get(life.suppressed.key);
    return root && isOpen(root.alarm.life) ? life.suppressed.key : null;
  }

  #isWithdrawn({ events }: Alarm): boolean {
    const { gone } = this.#given;
    return events.length > 0 && events.every((id) => gone.some((one) => one.id === id));
  }

  openAlarms(): Alarm[] {
    return [...this.#moving.values()].map(({ alarm }) => alarm).filter(({ life }) => isOpen(life));
  }

  changedAlarms(): Alarm[] {
    return this.#kept()
      .map(({ alarm }) => alarm)
      .filter((alarm) => this.#before.get(alarm.key) !== alarm);
  }

  changes(): AlarmChange[] {
    return this.#kept().flatMap((one) => one.changes);
  }

  /** Those that were open, and those that have become so. */
  #kept(): Moving[] {
    return [...this.#moving.values()].filter(
      ({ alarm }) => this.#before.has(alarm.key) || isOpen(alarm.life),
    );
  }
}
