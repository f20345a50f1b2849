import { formatInstant } from '../base/instant.ts';
import type { Alarm } from './alarm.ts';
import { stateOf } from './life.ts';

/**
 * What a stack light or sounder beside a person shows of a site (handbook 7: an alarm needs a timely response): `urgent`
 * while a critical alarm waits for somebody, `attention` while anything else is true, `nothing` when nothing is. By the
 * letters of ISA-18.2: what is hidden, shelved or out of service shows nothing, nor does what is over.
 */
export interface StackLight {
  readonly state: 'nothing' | 'attention' | 'urgent';
  readonly stands: readonly {
    readonly alarm: string;
    readonly device: string;
    readonly rule: string;
    readonly severity: string;
    readonly acknowledged: boolean;
    /** ISO 8601, UTC */
    readonly since: string;
  }[];
}

const STANDING = new Set(['B', 'C', 'E', 'F']);
const WAITING = new Set(['B', 'E']);
/** a light has few lamps, and a small controller little memory */
const SHOWN = 20;

export function stackLight(alarms: readonly Alarm[]): StackLight {
  const standing = alarms.filter(({ life }) => STANDING.has(stateOf(life)));
  const isUrgent = standing.some(({ life }) => life.severity === 'critical' && WAITING.has(stateOf(life)));
  return {
    state: isUrgent ? 'urgent' : standing.length > 0 ? 'attention' : 'nothing',
    stands: standing.slice(0, SHOWN).map(({ id, subject, rule, life, since }) => ({
      alarm: id,
      device: subject.device,
      rule,
      severity: life.severity,
      acknowledged: !WAITING.has(stateOf(life)),
      since: formatInstant(since.latest),
    })),
  };
}
