import { expect, it } from 'vitest';
import type { AlarmChange, Command } from '../../shared/alarms/alarm.ts';
import { decideAlarms } from '../../shared/alarms/decide.ts';
import { NO_ALARMS, type Decision, type Given, type SiteAlarms } from '../../shared/alarms/given.ts';
import { repairsIn, type Repair } from '../../shared/alarms/repair.ts';
import type { Asked } from '../../shared/alarms/machine.ts';
import type { Tuning } from '../../shared/alarms/tuning.ts';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import { eventId, type EventCause, type EventDraft, type EventKind } from '../../shared/inference/event.ts';
import type { Site } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/**
 * A story of alarms: which events came to be known and when, what people did, and what the journal says of it. A line is
 * `when: who kind [cause]`, `when: who kind over`, `when: learns of who kind from a to b`, `when: Ada acknowledges rule who`,
 * `when: Ada works on who for 30 min`, `when: nothing more`. Times in seconds. Between lines deadlines wake by themselves.
 */
export interface AlarmStory {
  readonly name: string;
  readonly site: object;
  readonly happens: readonly string[];
  /** `when: rule who what → state severity`, in order */
  readonly journal: readonly string[];
  /** `rule who state severity < root`, what isn't at rest at the end */
  readonly stands?: readonly string[];
  readonly tasks?: readonly string[];
  readonly tuning?: Tuning;
  /** lines of the journal that tell nothing here */
  readonly without?: readonly AlarmChange['what'][];
}

const START = 1_700_000_000;
const at = (second: number): Instant => seconds(START + second);
const second = (instant: Instant): number => Math.round(inSeconds(instant) - START);

export function tellAlarms(story: AlarmStory): void {
  it(story.name, () => {
    const told = new AlarmTelling(story);
    for (const line of story.happens) told.tell(line);
    const hidden = new Set<string>(story.without ?? []);
    const journal = told.journal.filter(({ what }) => !hidden.has(what)).map(({ line }) => line);
    expect(journal).toEqual(story.journal);
    if (story.stands) expect(told.stands()).toEqual(story.stands);
    if (story.tasks) expect(told.state.tasks.map(({ key }) => key)).toEqual(story.tasks);
  });
}

export class AlarmTelling {
  state: SiteAlarms = NO_ALARMS;
  readonly journal: { readonly what: string; readonly line: string }[] = [];
  readonly outcomes: (string | null)[] = [];
  readonly #events = new Map<string, EventDraft>();
  readonly #gone: { id: string; replacedBy: string | null }[] = [];
  readonly #site: Site;
  readonly #tuning: Tuning;
  readonly #names = new Map<string, string>();
  /** known through, of a subject that is behind */
  readonly #behind = new Map<string, Instant>();
  #added: string[] = [];
  #commands: Command[] = [];
  #repairs: readonly Repair[] = [];
  #wake: Decision['wake'] = { at: null, through: null };
  #now = at(0);

  constructor({ site, tuning = [] }: Pick<AlarmStory, 'site' | 'tuning'>) {
    const parsed = parseConfiguration('oak', { timeZone: 'UTC', gateways: [{ id: 'gateway' }], ...site });
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
    this.#site = parsed.site;
    this.#tuning = tuning;
  }

  tell(line: string): void {
    const [, when, rest] = /^(-?\d+): (.*)$/.exec(line) ?? [];
    if (when === undefined || rest === undefined) throw new Error(`not a line: ${line}`);
    this.#sleepUntil(at(Number(when)));
    this.#happen(rest);
    this.decide();
  }

  /** Deadlines on the way wake by themselves. */
  #sleepUntil(until: Instant): void {
    for (;;) {
      const next = Math.min(this.#wake.at ?? Infinity, this.#wake.through ?? Infinity);
      if (next >= until) break;
      this.#now = next;
      this.decide();
    }
    this.#now = until;
  }

  #happen(text: string): void {
    if (text === 'nothing more') return;
    const [who, does, ...rest] = text.split(' ');
    if (who === 'learns') return this.#learn(text);
    if (does === 'is' && rest[0] === 'behind') {
      this.#behind.set(who!, at(Number(rest[1])));
      return;
    }
    if (does === 'has') {
      this.#behind.delete(who!);
      return;
    }
    if (does === 'works') return this.#work(who!, rest);
    if (does! in VERBS) return this.#ask(who!, does!, rest);
    if (rest[0] === 'over') return this.#end(who!, does as EventKind);
    if (rest[0] === 'withdrawn') return this.#withdraw(who!, does as EventKind);
    if (rest[0] === 'moved') return this.#moveStart(who!, does as EventKind, Number(rest[2]));
    this.#begin(who!, does as EventKind, rest, this.#now);
  }

  #begin(who: string, kind: EventKind, rest: readonly string[], from: Instant): EventDraft {
    const [cause, ...members] = rest;
    const event = this.#draft(
      who,
      kind,
      cause === undefined || cause === '-' ? null : (cause as EventCause),
      from,
      members,
    );
    this.#events.set(event.id, event);
    this.#added.push(event.id);
    return event;
  }

  #learn(text: string): void {
    const found = /^learns of (\S+) (\S+) (\S+) from (-?\d+)(?: to (-?\d+))?(?: (.*))?$/.exec(text);
    if (!found) throw new Error(text);
    const [, who, kind, cause, from, to, members = ''] = found;
    const event = this.#begin(
      who!,
      kind as EventKind,
      [cause!, ...members.split(' ').filter(Boolean)],
      at(Number(from)),
    );
    if (to !== undefined) this.#events.set(event.id, { ...event, end: exactly(at(Number(to))) });
  }

  #open(who: string, kind: EventKind): EventDraft {
    const found = [...this.#events.values()].findLast(
      (event) => event.kind === kind && event.end === null && this.#names.get(event.id) === who,
    );
    if (!found) throw new Error(`no ${kind} of ${who} stands`);
    return found;
  }
  #end(who: string, kind: EventKind): void {
    const event = this.#open(who, kind);
    this.#events.set(event.id, { ...event, end: exactly(this.#now) });
  }
  #withdraw(who: string, kind: EventKind): void {
    const event = this.#open(who, kind);
    this.#events.delete(event.id);
    this.#gone.push({ id: event.id, replacedBy: null });
  }
  #moveStart(who: string, kind: EventKind, to: number): void {
    const old = this.#open(who, kind);
    this.#events.delete(old.id);
    const event = this.#draft(who, kind, old.cause, at(to), old.members);
    this.#events.set(event.id, event);
    this.#added.push(event.id);
    this.#gone.push({ id: old.id, replacedBy: event.id });
  }

  #draft(
    who: string,
    kind: EventKind,
    cause: EventCause | null,
    from: Instant,
    members: readonly string[],
  ): EventDraft {
    const unit = this.#site.units.find(({ id }) => id === who);
    const space = this.#site.spaces.find(({ id }) => id === who);
    const subjectKind = unit ? 'unit' : space ? 'space' : who.includes('gateway') ? 'gateway' : 'panel';
    const id = eventId({ kind: subjectKind, site: 'oak', device: who }, kind, '', from);
    this.#names.set(id, who);
    const isInstant = INSTANTS.has(kind);
    return {
      id,
      site: 'oak',
      panel: unit?.panel ?? (subjectKind === 'panel' ? who : null),
      unit: unit?.id ?? null,
      space: unit?.space ?? space?.id ?? null,
      ...(subjectKind === 'gateway' ? { gateway: who } : {}),
      kind,
      cause,
      start: exactly(from),
      end: isInstant ? exactly(from) : null,
      certainty: 'certain',
      causeCertainty: cause && 'certain',
      pending: [],
      measures: {},
      candidates: [],
      evidence: [],
      members,
      discriminator: '',
    };
  }

  #ask(who: string, verb: string, rest: readonly string[]): void {
    const [rule, device, ...words] = rest;
    const alarm = this.state.alarms.find((one) => one.rule === rule && one.subject.device === device);
    const mark = { by: who, at: this.#now };
    const asked = VERBS[verb]!(mark, words);
    const id = `${this.#commands.length}`;
    this.#commands.push({ id, kind: 'alarm', alarm: alarm?.id ?? 'none', asked });
  }

  #work(who: string, rest: readonly string[]): void {
    const minutes = Number(rest.at(-2));
    const units = rest.slice(1, rest.indexOf('for'));
    const until = this.#now + seconds(minutes * 60);
    this.#commands.push({ id: `w${this.#now}`, kind: 'begin-work', units, by: who, at: this.#now, until });
  }

  decide(): void {
    const given: Given = {
      events: [...this.#events.values()],
      added: this.#added,
      gone: this.#gone,
      commands: this.#commands,
      repairs: this.#repairs,
      now: this.#now,
      through: this.#now,
      configuration: { site: this.#site, tuning: this.#tuning },
      known: new Map(this.#subjects().map((key) => [key, { through: this.#knownOf(key), stopped: false }])),
      pending: false,
      powered: new Map(),
      hotInUse: new Set(),
    };
    const decision = decideAlarms(this.state, given);
    const names = new Map([...this.state.alarms, ...decision.alarms].map((one) => [one.id, one]));
    for (const { alarm, what, state, severity, events } of decision.changes) {
      const of = alarm === null ? null : names.get(alarm)!;
      const about = of ? `${of.rule} ${of.subject.device}` : `${this.#names.get(events[0]!)}`;
      const then = state === null ? '' : ` → ${state} ${severity}`;
      this.journal.push({ what, line: `${second(this.#now)}: ${about} ${what}${then}` });
    }
    this.#repairs = [...this.#repairs, ...repairsIn(decision)];
    for (const outcome of decision.outcomes.values()) this.outcomes.push(outcome);
    this.state = decision.state;
    this.#wake = decision.wake;
    this.#added = [];
    this.#commands = [];
  }

  #subjects(): string[] {
    const { units, spaces, panels, gateways } = this.#site;
    const of = (kind: string, list: readonly { id: string }[]) => list.map(({ id }) => `${kind}/${id}`);
    return [...of('unit', units), ...of('space', spaces), ...of('panel', panels), ...of('gateway', gateways)];
  }
  #knownOf(key: string): Instant {
    return this.#behind.get(key.split('/')[1]!) ?? this.#now;
  }

  stands(): string[] {
    return this.state.alarms.map(({ rule, subject, life, key: _ }) => {
      const root = life.suppressed?.kind === 'alarm' ? ` < ${life.suppressed.key}` : '';
      return `${rule} ${subject.device} ${life.severity}${root}`;
    });
  }
}

const INSTANTS = new Set<EventKind>(['short-cycle', 'simultaneous-start', 'repeated-reset', 'lockout-reset']);

type Mark = { readonly by: string; readonly at: Instant };
const VERBS: Readonly<Record<string, (mark: Mark, words: readonly string[]) => Asked>> = {
  acknowledges: (mark) => ({ ...mark, kind: 'acknowledge' }),
  closes: (mark) => ({ ...mark, kind: 'close', reason: 'mended' }),
  shelves: (mark, words) => ({
    ...mark,
    kind: 'shelve',
    reason: 'part on order',
    until: mark.at + seconds(Number(words[1])),
  }),
};
