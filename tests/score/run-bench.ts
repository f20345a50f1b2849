import { SECOND } from '../../shared/base/instant.ts';
import { buildingCases } from './building-case.ts';
import { makeCase, SUBJECT, type Case } from './case.ts';
import { countEdge } from './edges.ts';
import { isSameWhenLate } from './late.ts';
import { conclude, toldAfter } from './run-case.ts';
import type { BuildingRow, Row, SiteRow, UnitRow } from './setups.ts';
import { judgedOf, makeSiteCase, type SiteCase } from './site-case.ts';
import { areTogether } from './site-truth.ts';
import { beyond, saysOf } from './stated.ts';
import { count, example, newTally, show, type SetupTally } from './tally.ts';
import type { TrueEvent } from './true-event.ts';

/** every so many histories is folded in steps too, to see how soon things are told; and delivered late */
const STEPPED = 50;
const LATE = 50;

/** Which histories, what befalls a unit in them, and which examples are kept. */
export interface Asked {
  readonly seeds: readonly number[];
  readonly faults?: readonly string[] | null;
  readonly isShown?: (line: string) => boolean;
}

export function runSetup(row: Row, asked: Asked): SetupTally {
  const tally = newTally(asked.isShown);
  for (const seed of asked.seeds)
    switch (row.kind) {
      case 'unit':
        runUnit(tally, row, seed, asked.faults ?? null);
        break;
      case 'site':
        runSite(tally, row, seed);
        break;
      case 'building':
        runBuilding(tally, row, seed);
    }
  return tally;
}

function runUnit(tally: SetupTally, row: UnitRow, seed: number, faults: readonly string[] | null): void {
  const one = makeCase(seed, row, faults);
  const { events, edges } = conclude(one);
  tally.histories++;
  tally.unitDays += (one.to - one.from) / SECOND / 86_400;
  tally.rows += one.page.length;
  count(tally, {
    ...one,
    device: SUBJECT.device,
    told: events,
    says: (truth) => (isDead(one, truth) ? 'not-at-all' : saysOf(one.stated, truth)),
    beyond: (event) => beyond(one.stated, event),
    toldAfter: seed % STEPPED === 0 ? toldAfter(one) : null,
  });
  for (const edge of edges) countEdge(tally, one, edge);
  if (seed % LATE === 0 && row.contactsEvery === null && !row.twoClocks) deliverLate(tally, one);
}

/** A dead gateway leaves a part of the event unseen. */
function isDead({ dead }: Case, truth: TrueEvent): boolean {
  const lead = 400 * SECOND;
  const end = typeof truth.end === 'number' ? truth.end : truth.start;
  return dead.some((gap) => gap.from - lead <= end && truth.start <= gap.to + lead);
}

function deliverLate(tally: SetupTally, one: Case): void {
  tally.late++;
  if (isSameWhenLate(one)) return;
  tally.lateUnequal++;
  show(tally, `seed ${one.seed}: delivered late, it came to other events`);
}

function runSite(tally: SetupTally, row: SiteRow, seed: number): void {
  countSite(tally, makeSiteCase(seed, row));
}

function runBuilding(tally: SetupTally, _row: BuildingRow, seed: number): void {
  for (const one of buildingCases(seed)) countSite(tally, one);
}

function countSite(tally: SetupTally, one: SiteCase): void {
  const { judged, events } = judgedOf(one);
  tally.histories++;
  tally.unitDays += (one.site.units.length * (one.to - one.from)) / SECOND / 86_400;
  tally.rows += one.rows.length;
  for (const subject of judged) count(tally, subject);
  for (const event of events.filter(
    ({ kind, certainty }) => kind === 'simultaneous-start' && certainty === 'certain',
  )) {
    const place = one.places.find(({ panel }) => panel.id === event.panel);
    if (!place) continue;
    tally.together++;
    if (areTogether(place, event.members, event.start.earliest, event.end!.latest)) continue;
    tally.falselyTogether++;
    example(tally, { ...one, device: place.panel.id }, 'not together:', event);
  }
}
