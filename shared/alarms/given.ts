import type { Instant } from '../base/instant.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Site } from '../telemetry/site.ts';
import type { Alarm, AlarmChange, Command, Task, Work } from './alarm.ts';
import type { Lag } from './catch-up.ts';
import type { Wake } from './deadlines.ts';
import type { AlarmRefusal } from './machine.ts';
import type { Repair } from './repair.ts';
import type { Tuning } from './tuning.ts';
import type { WorkRefusal } from './work.ts';

/** What a site's decision (decide.ts) begins with, is given, and gives. */
export interface SiteAlarms {
  /** those that aren't at rest */
  readonly alarms: readonly Alarm[];
  readonly tasks: readonly Task[];
  readonly works: readonly Work[];
  /** by key of a condition that waits for its subject to catch up */
  readonly lags: Readonly<Record<string, Lag>>;
}

export const NO_ALARMS: SiteAlarms = { alarms: [], tasks: [], works: [], lags: {} };

export interface Given {
  /** that stand, that ended within what rules look back on (rules.ts), and those that an open alarm names */
  readonly events: readonly EventDraft[];
  /** ids that are new since the last decision */
  readonly added: readonly string[];
  /** named by an open alarm and withdrawn; with what stands in their place */
  readonly gone: readonly { readonly id: string; readonly replacedBy: string | null }[];
  readonly commands: readonly Command[];
  /** what people have closed as mended, as far back as that is watched (repair.ts) */
  readonly repairs: readonly Repair[];
  /** the server's clock */
  readonly now: Instant;
  /** through when time is known to have passed, in event time */
  readonly through: Instant;
  readonly configuration: { readonly site: Site; readonly tuning: Tuning };
  /** what folds know, by subject (`unit/…`); absent: never folded. `through` null: unknown by silence */
  readonly known: ReadonlyMap<string, { readonly through: Instant | null; readonly stopped: boolean }>;
  /** is there anything of the site that inference has yet to fold */
  readonly pending: boolean;
  /** units whose control power is seen now, with since when at least */
  readonly powered: ReadonlyMap<string, Instant>;
  /** spaces in use and above their limits */
  readonly hotInUse: ReadonlySet<string>;
}

export interface Decision {
  readonly state: SiteAlarms;
  /** alarms that are new or other than before, with those that have come to rest */
  readonly alarms: readonly Alarm[];
  readonly tasks: readonly Task[];
  readonly changes: readonly AlarmChange[];
  /** by id of the command; null: done */
  readonly outcomes: ReadonlyMap<string, AlarmRefusal | WorkRefusal | null>;
  readonly wake: Wake;
}
