import type { Role, Sites } from '../../../shared/wire/may.ts';

/** What each role may, as one tells somebody who is given it. */
export const ROLE_WORDS: Readonly<Record<Role, string>> = {
  viewer: 'looks',
  technician: 'looks, takes alarms, tries other settings',
  engineer: 'as a technician, and changes sites',
  administrator: 'as an engineer, and looks after people',
};

export const sitesWords = (sites: Sites | null): string => {
  if (sites === null || sites === 'all') return 'every site';
  return sites.length === 0 ? 'no site' : sites.join(', ');
};
