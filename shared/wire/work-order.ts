import { FIRST_STEP } from '../visit/checks.ts';
import type { WireStaggerPlan } from './stagger-answer.ts';
import { planAnswer, priceText } from './stagger-sentences.ts';

/** What whoever goes to set delays takes along: what to set where, boxes for what is read back (handbook 5.4, 8). */
export interface WorkOrderPanel {
  readonly heading: string;
  readonly says: readonly string[];
  readonly rows: readonly WorkOrderRow[];
}

export interface WorkOrderRow {
  readonly unit: string;
  readonly where: string;
  readonly now: string;
  readonly set: string;
}

/** Where each unit is, as far as it is recorded. */
export interface UnitPlace {
  readonly name: string;
  readonly position: string | null;
  readonly disconnect: string | null;
}

export function workOrderPanel(
  panel: string,
  plan: WireStaggerPlan,
  places: Readonly<Record<string, UnitPlace>>,
): WorkOrderPanel {
  const names = Object.fromEntries(Object.entries(places).map(([id, { name }]) => [id, name]));
  const rows = plan.units
    .filter(({ isChange }) => isChange)
    .map(({ id, now, proposed }) => ({
      unit: names[id] ?? id,
      where: whereText(places[id]),
      now: `${now.offDelay} s`,
      set: `${proposed.offDelay} s`,
    }));
  const heading = `${panel}: ${rows.length === 1 ? 'one delay' : `${rows.length} delays`} to set`;
  return { heading, says: [planAnswer(plan, names), priceText(plan.price)], rows };
}

const NOT_RECORDED = 'not recorded – add it while you’re there';

function whereText(place: UnitPlace | undefined): string {
  const known = [place?.position, place?.disconnect && `disconnect: ${place.disconnect}`].filter(Boolean);
  return known.length > 0 ? known.join('; ') : NOT_RECORDED;
}

/** How it is done, in order. */
export const WORK_ORDER_STEPS: readonly string[] = [
  FIRST_STEP,
  'Set the off-cycle delay (the trade’s “delay on break”) of each unit below; leave all other settings alone.',
  'Read it back off the dial or the display, and write down what it shows, whether or not it is what was asked for.',
  'Enter what it shows and the time on the panel’s page: from then on it counts as recorded. The next restart shows whether it is kept.',
];
