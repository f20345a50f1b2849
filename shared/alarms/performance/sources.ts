import type { Site } from '../../telemetry/site.ts';
import type { AlarmRuleId } from '../rules.ts';

/** On what each rule may speak: a site's alarm sources are counted by it. */
const SPEAKS_OF: Record<AlarmRuleId, readonly ('site' | 'panel' | 'space' | 'unit' | 'gateway')[]> = {
  'cooling-lost': ['space'],
  'high-temperature': ['space'],
  'high-temperature-forecast': ['space'],
  'hard-lockout': ['unit'],
  'repair-failed': ['unit'],
  'cooling-reduced': ['space'],
  'hard-lockout-again': ['unit'],
  'power-loss': ['site', 'panel'],
  'unit-power-loss': ['unit'],
  'stuck-contactor': ['unit'],
  'failed-start': ['unit'],
  'undervoltage-in-a-row': ['unit'],
  'weak-cooling': ['unit', 'space'],
  'gateway-silent': ['gateway'],
};

/** How many alarms a site could raise: rules by what they may speak of. */
export function sourcesOf({ panels, spaces, units, gateways }: Site): number {
  const count = {
    site: panels.length > 1 ? 1 : 0,
    panel: panels.length,
    space: spaces.length,
    unit: units.length,
    gateway: gateways.length,
  };
  return Object.values(SPEAKS_OF)
    .flat()
    .reduce((sum, kind) => sum + count[kind], 0);
}
