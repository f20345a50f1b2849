/**
 * Who may do what: one table, for the server, which keeps to it, and for the page, which shows no more than it. Each route
 * names the action that it is (`server/http/access.ts` refuses to start with one that doesn't), each control on the page
 * asks the same question. Roles go up: each may what the one before it may.
 */
export const ROLES = ['viewer', 'technician', 'engineer', 'administrator'] as const;
export type Role = (typeof ROLES)[number];

/** Every site, also those that are made later; or these. */
export type Sites = 'all' | readonly string[];

/** Whoever asks: a person who is signed in, a program with a token, or this machine while nobody has set up accounts. */
export interface Actor {
  readonly kind: 'person' | 'token' | 'machine';
  readonly id: string;
  readonly name: string;
  readonly role: Role;
  readonly sites: Sites;
}

/**
 * How far an action reaches. `open`: before anybody has signed in. `own`: one's own account, so it takes a person. `sites`:
 * what belongs to the sites in one's scope; others read as not found. `everything`: what belongs to no site, so it takes
 * a scope of all sites.
 */
export type Reach = 'open' | 'own' | 'sites' | 'everything';

interface Row {
  /** the least role that may */
  readonly least: Role;
  readonly reach: Reach;
  /** in words that finish "You may not …" */
  readonly does: string;
}

const row = (least: Role, reach: Reach, does: string): Row => ({ least, reach, does });

/** Handbook section 8 says who works with what: people who look, who go out, who set up, who run the whole. */
const TABLE = {
  'ask-health': row('viewer', 'open', 'ask whether the server is well'),
  'ask-account': row('viewer', 'open', 'ask who is signed in'),
  'sign-in': row('viewer', 'open', 'sign in'),
  'sign-out': row('viewer', 'open', 'sign out'),
  'look-at-link': row('viewer', 'open', 'look whose a link is'),
  'use-link': row('viewer', 'open', 'choose a password by a link'),
  'set-up-first': row('viewer', 'open', 'set up the first administrator'),
  'keep-own-account': row('viewer', 'own', 'change this account'),
  'read-interface': row('viewer', 'sites', 'read the description of the interface'),
  'see-sites': row('viewer', 'sites', 'look at sites'),
  'see-inference': row('viewer', 'sites', 'look at how far inference is'),
  'answer-alarms': row('technician', 'sites', 'acknowledge, note, shelve or close alarms'),
  'work-on-units': row('technician', 'sites', 'put units into work in progress'),
  'take-alarms-out': row('engineer', 'sites', 'take alarms out of service'),
  'tune-alarms': row('engineer', 'sites', 'change the alarm rules'),
  'try-settings': row('technician', 'sites', 'try other settings'),
  'propose-settings': row('engineer', 'sites', 'propose other settings, agree or withdraw them'),
  'record-settings': row('technician', 'sites', 'write down what was set'),
  'see-telemetry': row('technician', 'sites', 'look at how telemetry comes in'),
  'prove-sites': row('technician', 'sites', 'prove a site’s wiring'),
  'see-wiring': row('engineer', 'sites', 'look at what is talking and not mapped'),
  'listen-to-topics': row('engineer', 'everything', 'listen to other topics'),
  'see-set-aside': row('technician', 'everything', 'look at entries that were set aside'),
  'change-sites': row('engineer', 'sites', 'change a site’s configuration'),
  'remove-demonstration': row('engineer', 'everything', 'remove the demonstration'),
  'see-gateways': row('technician', 'sites', 'look at how gateways connect'),
  'keep-gateways': row('engineer', 'sites', 'make or revoke what gateways connect by'),
  'read-broker-files': row('administrator', 'everything', 'take the broker’s password and access files'),
  'look-into-recordings': row('engineer', 'sites', 'look into a recorder’s file'),
  'export-record': row('engineer', 'sites', 'take samples and events out as files'),
  'import-samples': row('engineer', 'sites', 'take samples in from a file'),
  'take-recordings': row('engineer', 'sites', 'take in a recorder’s file'),
  'see-on-call': row('viewer', 'sites', 'see who is on call'),
  'stand-in': row('technician', 'sites', 'stand in for somebody, or swap'),
  'keep-on-call': row('engineer', 'everything', 'change rosters and policies'),
  'keep-channels': row('technician', 'sites', 'change where messages go'),
  'accept-by-link': row('viewer', 'open', 'accept an alarm by the link in a message'),
  'read-metrics': row('engineer', 'everything', 'read the counters'),
  'keep-people': row('administrator', 'everything', 'look after people and their rights'),
  'read-audit': row('administrator', 'everything', 'read the audit trail'),
} as const satisfies Readonly<Record<string, Row>>;

export type Action = keyof typeof TABLE;
export const ACTIONS = Object.keys(TABLE) as readonly Action[];
export const actionRow = (action: Action): Row => TABLE[action];

export const hasRole = (role: Role, least: Role): boolean => ROLES.indexOf(role) >= ROLES.indexOf(least);

/** null: allowed, as far as the site is in scope. */
export type WhyNot = 'not-signed-in' | 'takes-a-person' | 'role' | 'takes-all-sites';

export function whyNot(actor: Actor | null, action: Action): WhyNot | null {
  const { least, reach } = actionRow(action);
  if (reach === 'open') return null;
  if (actor === null) return 'not-signed-in';
  if (reach === 'own' && actor.kind !== 'person') return 'takes-a-person';
  if (!hasRole(actor.role, least)) return 'role';
  return reach === 'everything' && actor.sites !== 'all' ? 'takes-all-sites' : null;
}

/** Is the action allowed, to this site where one is named. */
export const may = (actor: Actor | null, action: Action, site?: string): boolean =>
  whyNot(actor, action) === null && (site === undefined || (actor !== null && isInScope(actor.sites, site)));

export const isInScope = (sites: Sites, site: string): boolean => sites === 'all' || sites.includes(site);

/** What is in both. */
export function commonSites(a: Sites, b: Sites): Sites {
  if (a === 'all') return b;
  return b === 'all' ? a : a.filter((site) => b.includes(site));
}

/** The lesser of two roles. */
export const lesserRole = (a: Role, b: Role): Role => (hasRole(a, b) ? b : a);
