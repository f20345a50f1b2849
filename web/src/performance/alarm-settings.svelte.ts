import type { RuleId } from '../../../shared/alarms/rules.ts';
import type { RuleTuning, Tuning } from '../../../shared/alarms/tuning.ts';
import type { TuningAnswer } from '../../../shared/wire/alarm-answer.ts';
import { fetchAnswer, Refused, sendJson } from '../net/http.ts';

/** One thing of a rule; undefined: as usual again. */
export type RuleChange = {
  readonly [K in Exclude<keyof RuleTuning, 'rule' | 'unit'>]?: RuleTuning[K] | undefined;
};

/** A site's alarm rules as they are set, and as somebody is about to set them. */
interface SiteNames {
  readonly name?: string;
  readonly timeZone: string;
  readonly units?: readonly { readonly id: string; readonly name?: string }[];
}

export class AlarmSettings {
  readonly #site: string;
  names = $state.raw<SiteNames | null>(null);
  answer = $state.raw<TuningAnswer | null>(null);
  draft = $state.raw<Tuning>([]);
  refused = $state.raw<Refused | null>(null);
  unsaved = $state.raw<Refused | null>(null);

  constructor(site: string) {
    this.#site = site;
  }

  get #path(): string {
    return `/sites/${encodeURIComponent(this.#site)}`;
  }

  async load(): Promise<void> {
    try {
      const names = await fetchAnswer<SiteNames>(this.#path);
      this.#take(await fetchAnswer<TuningAnswer>(`${this.#path}/alarm-settings`));
      this.names = names;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.refused = error;
    }
  }

  #take(answer: TuningAnswer): void {
    this.answer = answer;
    this.draft = tuningOf(answer.rules);
  }

  set(rule: RuleId, unit: string | null, change: RuleChange): void {
    const isIt = (one: RuleTuning): boolean => one.rule === rule && one.unit === unit;
    const next = { ...(this.draft.find(isIt) ?? { rule, unit }), ...change };
    const said = Object.fromEntries(Object.entries(next).filter(([, value]) => value !== undefined));
    const others = this.draft.filter((one) => !isIt(one));
    this.unsaved = null;
    this.draft = Object.keys(said).length > 2 ? [...others, said as unknown as RuleTuning] : others;
  }

  forget(): void {
    this.draft = tuningOf(this.answer?.rules ?? []);
    this.unsaved = null;
  }

  async save(): Promise<void> {
    try {
      this.#take(await sendJson<TuningAnswer>('PUT', `${this.#path}/alarm-settings`, { rules: this.draft }));
      this.unsaved = null;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.unsaved = error;
    }
  }
}

export const tuningOf = (rules: TuningAnswer['rules']): Tuning =>
  rules.map((one) => ({ ...one, unit: one.unit ?? null }));
