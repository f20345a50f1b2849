/** Offered while a time zone is typed: what this browser knows, UTC first. */
const KNOWN = Intl.supportedValuesOf('timeZone');
export const ZONES = ['UTC', ...KNOWN.filter((zone) => zone !== 'UTC')];
