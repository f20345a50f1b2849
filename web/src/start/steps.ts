import { formatInstant, type Instant } from '../../../shared/base/instant.ts';
import type { GatewayAccess } from '../../../shared/wire/gateway-access.ts';
import type { OnCallAnswer } from '../../../shared/wire/on-call-answer.ts';
import type { ProofAnswer } from '../../../shared/wire/proof-answer.ts';
import type { SiteItem } from '../../../shared/wire/service.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import { gatewaysHref, proofHref, siteHref, wiringHref } from '../address/place.ts';
import { editHref } from '../edit/edit-address.ts';
import { zoneNamed } from '../page/zone.ts';

/**
 * From an empty installation to proven sites, in the order of doing. Nothing is remembered of steps: each is read from what
 * is there, so that one may leave after any of them, and the first that is open is where one goes on.
 */
export type StepState = 'done' | 'open' | 'under-way' | 'due';

export interface Step {
  readonly name: string;
  /** null: it is done on this page */
  readonly href: string | null;
  /** null: this reader isn't told */
  readonly state: StepState | null;
  readonly says: string;
  /** the page's first line while this is the first that is open */
  readonly next: string;
}

export interface StepGroup {
  /** null: of no site */
  readonly name: string | null;
  readonly steps: readonly Step[];
}

/** How far a site is. */
export interface SiteProgress {
  readonly site: SiteItem;
  readonly points: number;
  readonly isHeard: boolean;
  /** null: it is heard already, or this reader isn't told */
  readonly access: GatewayAccess | null;
  /** null: this reader isn't told */
  readonly proof: ProofAnswer | null;
}

export interface Progress {
  readonly hasAdministrator: boolean;
  /** sites begun on this device and not saved */
  readonly begun: readonly { readonly id: string; readonly name: string }[];
  readonly sites: readonly SiteProgress[];
  /** null: this reader isn't told */
  readonly onCall: Pick<OnCallAnswer, 'hindrances'> | null;
  readonly now: Instant;
}

export function stepGroups({ hasAdministrator, begun, sites, onCall, now }: Progress): readonly StepGroup[] {
  const isEmpty = sites.length === 0 && begun.length === 0;
  return [
    { name: null, steps: [administratorStep(hasAdministrator), ...(isEmpty ? [FIRST_SITE] : [])] },
    ...begun.map(({ id, name }) => ({ name, steps: [saveStep(id, name)] })),
    ...sites.map((one) => ({ name: nameOf(one), steps: [pointsStep(one), accessStep(one), heardStep(one)] })),
    ...(onCall ? [{ name: 'Whom it tells', steps: [onCallStep(onCall)] }] : []),
    ...(sites.length > 0 ? [{ name: 'On site', steps: sites.map((one) => proofStep(one, now)) }] : []),
  ];
}

const isOpen = ({ state }: Step): boolean => state !== null && state !== 'done';

/** The first that isn't done; null: nothing is open. */
export const nextStep = (groups: readonly StepGroup[]): Step | null =>
  groups.flatMap(({ steps }) => steps).find(isOpen) ?? null;

const nameOf = ({ site }: Pick<SiteProgress, 'site'>): string => site.name || site.id;

const administratorStep = (isDone: boolean): Step => ({
  name: 'The first administrator',
  href: '/setup',
  state: isDone ? 'done' : 'open',
  says: 'From then on everybody signs in.',
  next: 'Begin with the first administrator.',
});

const FIRST_SITE: Step = {
  name: 'The first site',
  href: null,
  state: 'open',
  says: 'From a usual wiring, from tables, or by hand: below.',
  next: 'Begin with the first site.',
};

const saveStep = (id: string, name: string): Step => ({
  name: 'To be saved',
  href: editHref(id),
  state: 'open',
  says: 'Begun on this device; nobody else sees it yet.',
  next: `Next: look at ${name} in the editor, and save it.`,
});

const pointsStep = ({ site, points }: SiteProgress): Step => ({
  name: 'Its units and points',
  href: editHref(site.id),
  state: points > 0 ? 'done' : 'open',
  says:
    points === 0
      ? 'Nothing is wired yet as far as this knows.'
      : `${site.units} ${site.units === 1 ? 'unit' : 'units'}, ${points} ${points === 1 ? 'point' : 'points'}.`,
  next: `Next: what is wired at ${nameOf({ site })}.`,
});

function accessStep({ site, isHeard, access }: SiteProgress): Step {
  const gateways = access?.gateways ?? [];
  const able = gateways.filter(({ credentials }) => credentials.some(({ state }) => state === 'valid'));
  const isReady = gateways.length > 0 && able.length === gateways.length;
  const here =
    access?.broker.kind === 'embedded' && !access.broker.isTls ? ' On this machine it may do without.' : '';
  return {
    name: 'What its gateway connects by',
    href: gatewaysHref(site.id),
    state: isHeard || isReady ? 'done' : access === null ? null : 'open',
    says: isHeard
      ? 'It is let in.'
      : isReady
        ? 'Made. It is to be entered in the gateway.'
        : gateways.length > 1
          ? `${able.length} of ${gateways.length} gateways have something.${here}`
          : `A user and a password, shown once, or a certificate.${here}`,
    next: `Next: what the gateway of ${nameOf({ site })} connects by.`,
  };
}

const heardStep = ({ site, isHeard }: SiteProgress): Step => ({
  name: 'Something is heard of it',
  href: isHeard ? siteHref(site.id) : wiringHref(site.id),
  state: isHeard ? 'done' : 'open',
  says: isHeard ? 'Its gateway talks.' : 'Nothing is heard of it yet: let its gateway publish.',
  next: `Next: let the gateway of ${nameOf({ site })} publish.`,
});

const onCallStep = ({ hindrances }: Pick<OnCallAnswer, 'hindrances'>): Step => ({
  name: 'Who is on call',
  href: '/on-call',
  state: hindrances.length === 0 ? 'done' : 'open',
  says:
    hindrances.length === 0
      ? 'There is a policy, and whoever it asks can be reached.'
      : hindrances.slice(0, 3).join(' '),
  next: 'Next: who is on call.',
});

function proofStep(one: SiteProgress, now: Instant): Step {
  const { site, proof } = one;
  const name = nameOf(one);
  const step = { name: `The wiring of ${name}`, href: proofHref(site.id) };
  const prove = `Next: go to ${name} and prove its wiring.`;
  if (proof === null) return { ...step, state: null, says: 'Proven on site, contact by contact.', next: '' };
  const { session, dueAt, records } = proof;
  if (session) {
    const says = proof.now?.says ?? '';
    return { ...step, state: 'under-way', says, next: `Next: go on with the proof at ${name}.` };
  }
  const last = records[0];
  if (!last)
    return {
      ...step,
      state: 'open',
      says: 'Each contact is seen in both states, by whoever stands there with a phone.',
      next: prove,
    };
  if (!last.mayLeave)
    return { ...step, state: 'open', says: `The last visit ended so: ${last.says}`, next: prove };
  const isDue = dueAt !== null && readInstant(dueAt) <= now;
  return {
    ...step,
    state: isDue ? 'due' : 'done',
    says: `Proven on ${dayOf(last.to, site.timeZone)}${dueAt === null ? '' : `, due again ${isDue ? 'since' : 'on'} ${dayOf(dueAt, site.timeZone)}`}.`,
    next: `Next: prove the wiring of ${name} again.`,
  };
}

/** `Fri 27 Nov 2026` in the site's time */
function dayOf(text: string, timeZone: string): string {
  const zone = zoneNamed(timeZone);
  const at = readInstant(text);
  const year = formatInstant(at + zone.offset(at) * 1_000_000).slice(0, 4);
  return `${zone.day(at)} ${year}`;
}
