import type { GatewayStanding, PanelStanding, SpaceStanding, UnitStanding } from '../inference/standing.ts';
import type { Instant } from '../base/instant.ts';
import { spokenAge } from './durations.ts';
import { comesBack, needOf, type Reader } from './sentences.ts';

/**
 * The board's first line, which answers "is everyone cool, and am I needed?" in a sentence, and each site's line and
 * group. Pure: standings in, words out.
 */
export interface BoardSite {
  readonly name: string;
  readonly rooms: readonly { readonly name: string; readonly space: SpaceStanding }[];
  readonly units: readonly { readonly name: string; readonly unit: UnitStanding }[];
}

/** `someone is on it` comes with alarms and their owners. */
export type SiteGroup = 'needs-someone' | 'not-known' | 'fine';

export const GROUP_WORDS: Record<SiteGroup, string> = {
  'needs-someone': 'needs someone',
  'not-known': 'not known',
  fine: 'fine',
};

type Cooling = SpaceStanding['cooling'];

export function siteGroup(site: BoardSite): SiteGroup {
  const cooling = (...states: Cooling[]) => site.rooms.some((room) => states.includes(room.space.cooling));
  const need = site.units.map((unit) => needOf(unit.unit));
  if (need.includes('someone') || cooling('reduced', 'lost')) return 'needs-someone';
  return need.includes('not-known') || cooling('not-known') ? 'not-known' : 'fine';
}

/** The first line of the board: the rooms, then who is needed if anyone is, else who comes back by itself. */
export function boardAnswer(
  sites: readonly BoardSite[],
  reader: Pick<Reader, 'frozen' | 'now' | 'clock'>,
): string {
  if (sites.length === 0) return 'No site is set up yet.';
  const needed = sites.some((site) => siteGroup(site) === 'needs-someone');
  const parts = needed ? [needText(sites), ...returning(sites)] : [...returning(sites), needText(sites)];
  const answer = `${[roomsText(sites), ...parts].join('; ')}.`;
  return reader.frozen ? `As of ${reader.clock(reader.now)}, not live: ${answer}` : answer;
}

/** A site's own line, after its name. */
export const siteLine = (site: BoardSite): string =>
  [coolingText(site), ...returning([site]), ...needing(site)].join(' · ');

/** The first line of a site's own page: its rooms, who is needed where, who comes back by itself. */
export function siteAnswer(site: BoardSite, reader: Pick<Reader, 'frozen' | 'now' | 'clock'>): string {
  const group = siteGroup(site);
  const unknown = site.units.filter(({ unit }) => needOf(unit) === 'not-known');
  const whether = `whether ${named(unknown)} ${unknown.length === 1 ? 'needs' : 'need'} anyone isn’t known`;
  const who = [...neededText(site), ...(unknown.length ? [whether] : [])];
  const need = group === 'fine' ? ['nobody is needed'] : who.length > 0 ? who : [NEED_WORDS[group]];
  const parts = group === 'fine' ? [...returning([site]), ...need] : [...need, ...returning([site])];
  const [first = '', ...rest] = [coolingText(site), ...parts].join('; ');
  const answer = `${first.toUpperCase()}${rest.join('')}.`;
  return reader.frozen ? `As of ${reader.clock(reader.now)}, not live: ${answer}` : answer;
}

const NEED_WORDS: Record<SiteGroup, string> = {
  'needs-someone': 'someone is needed',
  'not-known': 'whether anyone is needed isn’t known',
  fine: 'nobody is needed',
};

function coolingText(site: BoardSite): string {
  const room = site.rooms.length === 1 ? site.rooms[0] : undefined;
  return room ? spaceText(room.space) : roomsText([site]);
}

/** Total: what a room's cooling is called. */
const SPACE_WORDS: Record<Cooling, (space: SpaceStanding) => string> = {
  all: (space) => {
    if (space.installed < 2) return 'has cooling';
    return `has cooling: ${space.installed === 2 ? 'both' : `all ${space.installed}`} units can run`;
  },
  reduced: (space) => `cooling reduced: ${space.able} of ${space.installed} units can run`,
  lost: (space) =>
    space.installed === 1
      ? 'cooling lost: its unit can’t run'
      : `cooling lost: ${space.able} of ${space.installed} units can run, ${space.needed} needed`,
  'not-known': () => 'cooling not known',
};

export const spaceText = (space: SpaceStanding): string => SPACE_WORDS[space.cooling](space);

const PANEL_WORDS: Record<PanelStanding['power'], string> = {
  present: 'powered',
  away: 'without power',
  'not-known': 'power not known',
};

export function panelText(panel: PanelStanding, now: Instant): string {
  const away = panel.power === 'away' && panel.since ? ` for ${spokenAge(panel.since, now)}` : '';
  const waiting = panel.restarting.length;
  return [
    `${PANEL_WORDS[panel.power]}${away}`,
    ...(panel.generator ? ['on generator'] : []),
    ...(waiting ? [`${counted(waiting, 'unit')} waiting to restart`] : []),
  ].join(' · ');
}

/** `gateway east`; one that is called gateway anyway isn't called so twice. */
export const gatewayName = (id: string): string => (id.includes('gateway') ? id : `gateway ${id}`);

export const gatewayText = (gateway: GatewayStanding, now: Instant): string =>
  gateway.silentSince !== null
    ? `silent for ${spokenAge({ earliest: gateway.silentSince, latest: gateway.silentSince }, now)}`
    : 'heard';

function roomsText(sites: readonly BoardSite[]): string {
  const rooms = sites.flatMap((site) => site.rooms);
  const count = (...states: Cooling[]) => rooms.filter((room) => states.includes(room.space.cooling)).length;
  if (rooms.length === 0) return 'No rooms are set up yet';
  const [lost, unknown] = [count('lost'), count('not-known')];
  return [
    `${count('all', 'reduced')} of ${counted(rooms.length, 'room')} ${rooms.length === 1 ? 'has' : 'have'} cooling`,
    ...(lost ? [`${lost} ${lost === 1 ? 'has' : 'have'} lost it`] : []),
    ...(unknown ? [`${unknown} ${unknown === 1 ? 'isn’t' : 'aren’t'} known`] : []),
  ].join(', ');
}

/** Who comes back without anybody. */
function returning(sites: readonly BoardSite[]): string[] {
  const back = sites.flatMap((site) => site.units).map(({ unit }) => comesBack(unit));
  const retries = back.filter((how) => how === 'retries').length;
  const restarts = back.filter((how) => how === 'restarts').length;
  return [
    ...(retries
      ? [`${counted(retries, 'unit')} ${retries === 1 ? 'retries by itself' : 'retry by themselves'}`]
      : []),
    ...(restarts
      ? [`${counted(restarts, 'unit')} ${restarts === 1 ? 'restarts' : 'restart'} after a power return`]
      : []),
  ];
}

function neededText(site: BoardSite): string[] {
  const needed = site.units.filter(({ unit }) => needOf(unit) === 'someone');
  return needed.length ? [`${named(needed)} ${needed.length === 1 ? 'needs' : 'need'} someone`] : [];
}

function needing(site: BoardSite): string[] {
  const unknown = site.units.filter(({ unit }) => needOf(unit) === 'not-known');
  return [
    ...neededText(site),
    ...(unknown.length ? [`${named(unknown)} ${unknown.length === 1 ? 'isn’t' : 'aren’t'} known`] : []),
  ];
}

function needText(sites: readonly BoardSite[]): string {
  const needs = sites.filter((site) => siteGroup(site) === 'needs-someone');
  if (needs.length > 2) return `${needs.length} sites need someone`;
  if (needs.length > 0)
    return `${needs.map((site) => site.name).join(' and ')} ${needs.length === 1 ? 'needs' : 'need'} someone`;
  const unknown = sites.filter((site) => siteGroup(site) === 'not-known');
  if (unknown.length === 0) return 'nobody is needed';
  return unknown.length === 1
    ? `whether ${unknown[0]!.name} needs anyone isn’t known`
    : `whether ${unknown.length} sites need anyone isn’t known`;
}

const named = (items: readonly { readonly name: string }[]): string =>
  items.length > 2 ? counted(items.length, 'unit') : items.map((item) => item.name).join(' and ');

const counted = (count: number, noun: string): string => `${count} ${noun}${count === 1 ? '' : 's'}`;
