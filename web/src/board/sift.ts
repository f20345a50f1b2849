import { needOf, comesBack } from '../../../shared/wire/sentences.ts';
import { siteGroup, type SiteGroup } from '../../../shared/wire/board-answer.ts';
import { answerSite, type SiteView, type UnitLineView } from '../view/site-view.ts';
import { PHASE_DRAWINGS, type Drawing } from '../../../shared/wire/drawings.ts';

/** The board's groups in order, each with its sites and the units that are shown of them; searched and filtered. */
export interface Sifting {
  /** words of the search, all of which a site's or a unit's names must hold */
  readonly words: string;
  readonly state: Drawing | null;
}
export interface SiftedSite {
  readonly site: SiteView;
  readonly group: SiteGroup;
  /** shown at once */
  readonly notable: readonly UnitLineView[];
  /** folded away until asked for */
  readonly rest: readonly UnitLineView[];
}

const ORDER: readonly SiteGroup[] = ['needs-someone', 'not-known', 'fine'];
/** A site of so few units is shown whole where it isn't fine. */
const FEW = 12;

export function sifted(
  sites: readonly SiteView[],
  sifting: Sifting,
): readonly (readonly [SiteGroup, readonly SiftedSite[]])[] {
  const words = sifting.words.toLowerCase().split(/\s+/).filter(Boolean);
  const kept = sites.flatMap((site) => siftedSite(site, words, sifting.state));
  return ORDER.map((group) => [group, kept.filter((entry) => entry.group === group)] as const);
}

function siftedSite(site: SiteView, words: readonly string[], state: Drawing | null): SiftedSite[] {
  const asked = words.length > 0 || state !== null;
  const units = asked ? site.units.filter((unit) => matches(site, unit, words, state)) : site.units;
  if (asked && units.length === 0) return [];
  const group = siteGroup(answerSite(site));
  const whole = asked || (group !== 'fine' && units.length <= FEW);
  const notable = units.filter((unit) => whole || isNotable(unit));
  return [{ site, group, notable, rest: units.filter((unit) => !notable.includes(unit)) }];
}

function matches(
  site: SiteView,
  unit: UnitLineView,
  words: readonly string[],
  state: Drawing | null,
): boolean {
  if (state !== null && PHASE_DRAWINGS[unit.standing.phase] !== state) return false;
  const room = site.rooms.find(({ id }) => id === unit.space)?.name ?? '';
  const panel = site.panels.find(({ id }) => id === unit.panel)?.name ?? '';
  const names = `${site.name} ${unit.name} ${unit.id} ${room} ${panel}`.toLowerCase();
  return words.every((word) => names.includes(word));
}

/** Worth a line of its own although all is well. */
const isNotable = (unit: UnitLineView): boolean =>
  needOf(unit.standing) !== 'nobody' || comesBack(unit.standing) !== null || unit.stopped !== null;
