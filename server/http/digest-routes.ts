import Type from 'typebox';
import { putDigestSettings, readDigestSettings } from '../../db/digests.ts';
import { readPerson } from '../../db/people.ts';
import type { DigestSettings } from '../../shared/people/digest.ts';
import { isZone, parseClock } from '../../shared/people/wall-time.ts';
import { Uuid } from '../../shared/wire/account.ts';
import { DigestAnswer, DigestAsk } from '../../shared/wire/digest-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { usualFor } from '../notify/take-digests.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { noPerson, refuseOthers } from './channel-routes.ts';
import { Refusal } from './refusal.ts';

/** When one's morning digest comes: one's own, or everybody's for an administrator. */
const config = { action: 'keep-channels' } as const;
const params = Type.Object({ person: Uuid });

export function digestRoutes(app: App, service: Service): void {
  const answerFor = async (person: string): Promise<DigestAnswer> => {
    const found = await readPerson(service.database, person);
    if (found === null) throw noPerson();
    const chosen = await readDigestSettings(service.database, person);
    return wireDigest(chosen ?? (await usualFor(service, found)), chosen === null);
  };
  const get = { params, response: { 200: DigestAnswer, 404: Problem } };
  app.get('/people/:person/digest', { schema: get, config }, (request) => {
    refuseOthers(request, request.params.person);
    return answerFor(request.params.person);
  });
  const put = { params, body: DigestAsk, response: { 200: DigestAnswer, 400: Problem, 404: Problem } };
  app.put('/people/:person/digest', { schema: put, config }, async (request) => {
    const { person } = request.params;
    refuseOthers(request, person);
    const { isOn, at, zone, weekday, isMonthly } = request.body;
    if (!isZone(zone))
      throw new Refusal('bad-request', 'There is no such zone.', [
        { pointer: '/zone', message: 'Give one as America/Chicago or Europe/Berlin.' },
      ]);
    if ((await readPerson(service.database, person)) === null) throw noPerson();
    const settings = { isOn, atMinutes: parseClock(at)!, zone, weekday, isMonthly };
    await putDigestSettings(service.database, person, settings);
    return answerFor(person);
  });
}

const two = (value: number): string => String(value).padStart(2, '0');

const wireDigest = (
  { isOn, atMinutes, zone, weekday, isMonthly }: DigestSettings,
  isUsual: boolean,
): DigestAnswer => ({
  isOn,
  at: `${two(Math.floor(atMinutes / 60))}:${two(atMinutes % 60)}`,
  zone,
  weekday,
  isMonthly,
  isUsual,
});
