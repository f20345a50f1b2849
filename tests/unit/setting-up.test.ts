import { expect, test } from 'vitest';
import { instantFromMilliseconds, type Instant } from '../../shared/base/instant.ts';
import type { GatewayAccess } from '../../shared/wire/gateway-access.ts';
import type { ProofAnswer } from '../../shared/wire/proof-answer.ts';
import { latestHandOver } from '../../web/src/on-call/roster-draft.ts';
import { nextStep, stepGroups, type Progress, type SiteProgress } from '../../web/src/start/steps.ts';

/** What the page of setting up says is next, from an empty installation on: the first that isn't done, read from what is there. */
const NOW: Instant = instantFromMilliseconds(Date.parse('2026-03-03T15:00:00Z'));
const EMPTY: Progress = {
  hasAdministrator: false,
  begun: [],
  sites: [],
  onCall: { hindrances: ['There is no policy: nobody is told of any alarm.'] },
  now: NOW,
};
const NOBODY_LET_IN = {
  broker: { kind: 'embedded', host: null, port: 8883, isTls: true },
  gateways: [{ id: 'gateway', credentials: [] }],
} as unknown as GatewayAccess;
const NEVER_PROVEN = { session: null, records: [], dueAt: null } as unknown as ProofAnswer;
const endedWith = (mayLeave: boolean, says: string, dueAt: string) =>
  ({
    session: null,
    records: [{ to: '2026-02-01T15:00:00.000Z', says, mayLeave }],
    dueAt,
  }) as unknown as ProofAnswer;
const A_YEAR_LATER = '2027-02-01T15:00:00.000Z';

const site = (more: Partial<SiteProgress>): SiteProgress => ({
  site: {
    id: 'mile-9',
    name: 'Mile 9',
    timeZone: 'America/Chicago',
    units: 2,
    spaces: 1,
    panels: 1,
    demonstration: false,
  },
  points: 13,
  isHeard: true,
  access: null,
  proof: NEVER_PROVEN,
  ...more,
});
const next = (more: Partial<Progress>) => nextStep(stepGroups({ ...EMPTY, ...more }));
const SET_UP = { hasAdministrator: true, onCall: { hindrances: [] } };

test.each<readonly [string, Partial<Progress>, string, string | null]>([
  ['nothing is there', {}, 'Begin with the first administrator.', '/setup'],
  ['there is an administrator', { hasAdministrator: true }, 'Begin with the first site.', null],
  [
    'a site was begun and left',
    { hasAdministrator: true, begun: [{ id: 'mile-9', name: 'Mile 9' }] },
    'Next: look at Mile 9 in the editor, and save it.',
    '/sites/mile-9/edit',
  ],
  [
    'a site has no points',
    { hasAdministrator: true, sites: [site({ points: 0, isHeard: false, access: NOBODY_LET_IN })] },
    'Next: what is wired at Mile 9.',
    '/sites/mile-9/edit',
  ],
  [
    'its gateway has nothing to connect by',
    { hasAdministrator: true, sites: [site({ isHeard: false, access: NOBODY_LET_IN })] },
    'Next: what the gateway of Mile 9 connects by.',
    '/sites/mile-9/gateways',
  ],
  [
    'nothing is heard, and this reader isn’t told of credentials',
    { hasAdministrator: true, sites: [site({ isHeard: false })] },
    'Next: let the gateway of Mile 9 publish.',
    '/sites/mile-9/wiring',
  ],
  ['it is heard', { hasAdministrator: true, sites: [site({})] }, 'Next: who is on call.', '/on-call'],
  [
    'somebody is told',
    { ...SET_UP, sites: [site({})] },
    'Next: go to Mile 9 and prove its wiring.',
    '/sites/mile-9/proof',
  ],
  [
    'somebody is there and proves it',
    {
      ...SET_UP,
      sites: [site({ proof: { ...NEVER_PROVEN, session: {} as ProofAnswer['session'] } })],
    },
    'Next: go on with the proof at Mile 9.',
    '/sites/mile-9/proof',
  ],
  [
    'they left too early',
    { ...SET_UP, sites: [site({ proof: endedWith(false, 'Don’t leave yet: …', A_YEAR_LATER) })] },
    'Next: go to Mile 9 and prove its wiring.',
    '/sites/mile-9/proof',
  ],
  [
    'a year has gone by',
    { ...SET_UP, sites: [site({ proof: endedWith(true, 'You may leave: …', '2026-03-01T15:00:00.000Z') })] },
    'Next: prove the wiring of Mile 9 again.',
    '/sites/mile-9/proof',
  ],
])('%s', (_, more, says, href) => {
  const step = next(more);
  expect([step?.next, step?.href]).toEqual([says, href]);
});

test('where everything is proven and somebody is told, nothing is next', () => {
  const sites = [site({ proof: endedWith(true, 'You may leave: …', A_YEAR_LATER) })];
  expect(next({ ...SET_UP, sites })).toBeNull();
  const says = stepGroups({ ...EMPTY, ...SET_UP, sites }).flatMap(({ steps }) =>
    steps.map((one) => one.says),
  );
  expect(says).toContain('Proven on Sun 1 Feb 2026, due again on Mon 1 Feb 2027.');
});

test('a new roster begins at the last hand-over, so that somebody is on call at once', () => {
  expect(latestHandOver('2026-03-03T14:07:32')).toBe('2026-03-03');
  expect(latestHandOver('2026-03-01T07:59:59')).toBe('2026-02-28');
});
