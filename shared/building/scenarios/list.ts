import type { Instant } from '../../base/instant.ts';
import type { Scenario, ScenarioBuilding } from '../plan.ts';
import { offsetFor } from '../weather.ts';
import { demoBuildings } from './demo.ts';
import { SMALL_SCENARIOS } from './small.ts';

/** Every scenario by name. The demonstration's own week and cycles belong to its runner; here its buildings just live. */
export const SCENARIOS: readonly Scenario[] = [
  {
    name: 'demo',
    title: 'School and shelter',
    summary: 'The buildings of the demonstration, for a week, with nothing out of the ordinary.',
    startHour: 0,
    seconds: 7 * 86_400,
    buildings: demoBuildings,
  },
  ...SMALL_SCENARIOS,
];

const WEDNESDAY = 2;

/** The scenario's buildings, moved so that its begin, whenever that is, falls on its hour of a Wednesday. */
export const buildingsAt = (scenario: Scenario, start: Instant): ScenarioBuilding[] =>
  scenario.buildings.map((each) => ({
    ...each,
    plan: { ...each.plan, utcOffsetHours: offsetFor(start, WEDNESDAY, scenario.startHour) },
  }));
