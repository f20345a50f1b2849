import { randomBytes } from 'node:crypto';
import type { FastifyRequest } from 'fastify';
import Type from 'typebox';
import {
  addChannel,
  deleteChannel,
  readChannel,
  readChannels,
  takeDevice,
  verifyChannel,
  type ChannelKind,
  type ChannelRow,
  type NewChannel,
} from '../../db/channels.ts';
import { announceNotices } from '../../db/escalations.ts';
import { addDelivery, readDeliveries, type DeliveryRow } from '../../db/notices.ts';
import { readPerson } from '../../db/people.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { Uuid } from '../../shared/wire/account.ts';
import { hasRole } from '../../shared/wire/may.ts';
import { ChannelAnswer, ChannelAsk, ChannelList, DeliveryAnswer } from '../../shared/wire/on-call-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import { refusedUrl } from '../notify/public-address.ts';
import { readDevice } from '../notify/push-encryption.ts';
import { testMessage } from '../notify/test-message.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { Refusal } from './refusal.ts';

/** Where a person can be reached: one's own channels, or everybody's for an administrator. */
const config = { action: 'keep-channels' } as const;
const ofPerson = Type.Object({ person: Uuid });
const oneChannel = Type.Object({ person: Uuid, channel: Uuid });
const DELIVERIES_SHOWN = 50;

export function channelRoutes(app: App, service: Service): void {
  listRoute(app, service);
  addRoute(app, service);
  changeRoutes(app, service);
  testRoute(app, service);
}

/** Anybody else's read as not found: who has which address is nobody's business. */
export function refuseOthers(request: FastifyRequest, person: string): void {
  const { actor } = request;
  if (actor.kind === 'person' && actor.id === person) return;
  if (hasRole(actor.role, 'administrator') && actor.sites === 'all') return;
  throw noPerson();
}

export const noPerson = () => new Refusal('not-found', 'There is no such person.');

function listRoute(app: App, { database, notices }: Service): void {
  const schema = { params: ofPerson, response: { 200: ChannelList, 404: Problem } };
  app.get('/people/:person/channels', { schema, config }, (request) => {
    const { person } = request.params;
    refuseOthers(request, person);
    return inSnapshot(database, async (queries) => {
      if ((await readPerson(queries, person)) === null) throw noPerson();
      const deliveries = await readDeliveries(queries, { alarm: null, person }, DELIVERIES_SHOWN);
      return {
        items: (await readChannels(queries, person)).map(wireChannel),
        cursor: null,
        kinds: [...notices.kinds],
        pushKey: notices.pushSender.publicKey,
        deliveries: deliveries.map(wireDelivery),
      };
    });
  });
}

function addRoute(app: App, { database, notices, now }: Service): void {
  const schema = {
    params: ofPerson,
    body: ChannelAsk,
    response: { 201: ChannelAnswer, 400: Problem, 403: Problem, 404: Problem, 409: Problem },
  };
  app.post('/people/:person/channels', { schema, config }, async (request, reply) => {
    const { person } = request.params;
    const { kind } = request.body;
    refuseOthers(request, person);
    // whoever may name an address makes this server call it
    if (kind === 'webhook' && !hasRole(request.actor.role, 'engineer'))
      throw new Refusal('not-permitted', 'You may not set up a webhook. It takes an engineer.');
    if ((await readPerson(database, person)) === null) throw noPerson();
    const channel = { person, ...channelFrom(request.body, notices.pushIsLocal) };
    const made = await database.transaction({ name: 'add-channel' }, async (queries) => {
      if (kind === 'web-push') await takeDevice(queries, channel.address, person);
      return addChannel(queries, channel, now());
    });
    if (made === null)
      throw new Refusal('conflict', 'That address is there already, or there are too many: remove one.');
    request.audited.detail = { person, kind };
    const answer = { ...wireChannel(made), ...(kind === 'webhook' ? { secret: channel.secret! } : {}) };
    return reply.code(201).send(answer);
  });
}

function channelFrom(asked: ChannelAsk, isLocal: boolean): OfPerson {
  const { kind } = asked;
  if (kind === 'web-push') return deviceFrom(asked, isLocal);
  const address = asked.address.trim();
  const { fits, message } = ADDRESSES[kind];
  if (!fits(address)) throw badPart('/address', message);
  return {
    kind,
    address,
    secret: kind === 'webhook' ? `whsec_${randomBytes(24).toString('base64')}` : null,
  };
}

/** As the browser gives it: where its messages go, and the keys that only it can read them with. */
function deviceFrom({ address, keys, label }: ChannelAsk, isLocal: boolean): OfPerson {
  const refused = isLocal ? null : refusedUrl(address);
  if (refused !== null) throw badPart('/address', `That isn’t the address of a push service. ${refused}`);
  const secret = keys ? `${keys.p256dh}.${keys.auth}` : null;
  if (readDevice(secret) === null)
    throw badPart('/keys', 'Give the keys of the subscription as the browser has them.');
  return { kind: 'web-push', address, secret, label: label ?? 'a device' };
}

type OfPerson = Omit<NewChannel, 'person'>;

const badPart = (pointer: string, message: string) =>
  new Refusal('bad-request', message, [{ pointer, message }]);

const NUMBER = {
  fits: (text: string) => /^\+[1-9]\d{6,14}$/.test(text),
  message: 'Give the number with its country, as +15550100123 (ITU-T E.164).',
};

const ADDRESSES: Record<
  Exclude<ChannelKind, 'web-push'>,
  { readonly fits: (text: string) => boolean; readonly message: string }
> = {
  'e-mail': {
    fits: (text) => /^[^\s@<>",;:\\]{1,64}@[^\s@<>",;:\\]{1,255}$/.test(text),
    message: 'Give an address as name@example.org.',
  },
  webhook: {
    fits: (text) => URL.canParse(text) && /^https?:$/.test(new URL(text).protocol) && !new URL(text).username,
    message: 'Give an address that begins with https://.',
  },
  'short-message': NUMBER,
  voice: NUMBER,
};

async function channelOf(request: FastifyRequest, service: Service): Promise<ChannelRow> {
  const { person, channel } = request.params as { person: string; channel: string };
  refuseOthers(request, person);
  const found = await readChannel(service.database, channel);
  if (found?.person !== person) throw new Refusal('not-found', 'There is no such channel.');
  return found;
}

function changeRoutes(app: App, service: Service): void {
  const { database, now } = service;
  const remove = { params: oneChannel, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/people/:person/channels/:channel', { schema: remove, config }, async (request, reply) => {
    const { id } = await channelOf(request, service);
    await deleteChannel(database, id);
    return reply.code(204).send(null);
  });
  const verify = { params: oneChannel, response: { 200: ChannelAnswer, 404: Problem } };
  app.post('/people/:person/channels/:channel/verify', { schema: verify, config }, async (request) => {
    const { id } = await channelOf(request, service);
    await verifyChannel(database, id, now());
    return wireChannel((await readChannel(database, id))!);
  });
}

/** A test is a row like every other message; what came of it is in the list of deliveries. */
function testRoute(app: App, service: Service): void {
  const { database, now } = service;
  const schema = { params: oneChannel, response: { 202: DeliveryAnswer, 404: Problem } };
  app.post('/people/:person/channels/:channel/test', { schema, config }, async (request, reply) => {
    const { id, person } = await channelOf(request, service);
    const [made] = await database.transaction({ name: 'test-channel' }, async (queries) => {
      const at = now();
      const body = testMessage(service.notices.publicUrl);
      const message = `test:${formatInstant(at)}`;
      await addDelivery(queries, { notice: null, channel: id, message, reason: 'test', body }, at);
      await announceNotices(queries);
      return readDeliveries(queries, { alarm: null, person }, 1);
    });
    return reply.code(202).send(wireDelivery(made!));
  });
}

const wireChannel = (row: ChannelRow): ChannelAnswer => ({
  id: row.id,
  kind: row.kind,
  address: row.address,
  label: row.label,
  verifiedAt: wireInstant(row.verifiedAt),
  disabledAt: wireInstant(row.disabledAt),
  disabledWhy: row.disabledWhy,
});

const wireDelivery = (row: DeliveryRow): DeliveryAnswer => ({
  id: String(row.id),
  alarm: row.alarm,
  kind: row.kind,
  address: row.address,
  reason: row.reason,
  state: row.state,
  attempts: row.attempts,
  madeAt: formatInstant(row.madeAt),
  dueAt: formatInstant(row.dueAt),
  endedAt: wireInstant(row.endedAt),
  answer: row.answer,
});
