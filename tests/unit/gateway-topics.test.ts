import { expect, test } from 'vitest';
import {
  gatewayTopics,
  mayHear,
  mayPublish,
  maySubscribe,
  type NamedSource,
} from '../../shared/telemetry/gateway-topics.ts';
import { filterCovers, filterTakes } from '../../shared/telemetry/topic-filter.ts';

/** Contract 1.1 to 1.3: which topics are a gateway's; MQTT 3.1.1 section 4.7 for what a filter takes. */
const named = (site: string, gateway: string, topic: string | null, sparkplug: string | null = null) =>
  ({ site, gateway, topic, sparkplug }) satisfies NamedSource;

const NAMED = [
  named('school', 'gateway', 'plant/7/+/di'),
  named('school', 'gateway', null, 'works/edge-1/unit-1/call'),
  named('school', 'other', 'plant/8/#'),
  named('school', 'gateway', 'both/inputs'),
  named('school', 'gateway', null, 'works/shared/unit-1/call'),
  named('school', 'gateway', 'holdoff/shelter/unit-1/cooling-call'),
  named('shelter', 'gateway', 'both/+'),
  named('shelter', 'gateway', null, 'works/shared/unit-9/call'),
];
const topics = gatewayTopics({ root: 'holdoff', site: 'school', gateway: 'gateway' }, NAMED);

test.each([
  ['holdoff/school/unit-1/cooling-call', true],
  ['holdoff/school/gateway', true],
  ['holdoff/school', true],
  ['holdoff/school-2/unit-1/cooling-call', false],
  ['holdoff/shelter/unit-1/cooling-call', false],
  ['holdoff', false],
  ['plant/7/ahu/di', true],
  ['plant/7/ahu/do', false],
  ['plant/8/x', false], // another gateway's
  ['both/inputs', false], // another site's as well
  ['spBv1.0/works/NBIRTH/edge-1', true],
  ['spBv1.0/works/DDATA/edge-1/unit-1', true],
  ['spBv1.0/works/NDATA/edge-2', false],
  ['spBv1.0/works/NCMD/edge-1', false], // commands are the host's
  ['spBv1.0/works/NDATA/shared', false],
  ['spBv1.0/STATE/holdoff', false],
  ['$SYS/broker/x', false],
])('a gateway publishes to %s: %s', (topic, allowed) => {
  expect(mayPublish(topics, topic)).toBe(allowed);
});

test.each([
  ['holdoff/school/#', true],
  ['holdoff/school/+/cooling-call', true],
  ['holdoff/+/unit-1/cooling-call', false],
  ['holdoff/#', false],
  ['#', false],
  ['+/school/unit-1', false],
  ['plant/7/ahu/di', false],
  ['spBv1.0/works/NCMD/edge-1/#', true],
  ['spBv1.0/works/DCMD/edge-1/unit-1', true],
  ['spBv1.0/STATE/holdoff', true],
  ['spBv1.0/works/NDATA/edge-2', false],
  ['$SYS/#', false],
])('a gateway subscribes to %s: %s', (filter, allowed) => {
  expect(maySubscribe(topics, filter)).toBe(allowed);
});

test('what is named and yet not given is told, with the reason', () => {
  expect(topics.withheld).toEqual([
    { filter: 'both/inputs', why: 'points of another site listen to it as well' },
    { filter: 'holdoff/shelter/unit-1/cooling-call', why: 'it reaches into topics of other sites' },
    { filter: 'works/shared', why: 'points of another site listen to it as well' },
  ]);
});

test('what it may hear is what it may subscribe to', () => {
  expect(mayHear(topics, 'holdoff/school/unit-1/cooling-call')).toBe(true);
  expect(mayHear(topics, 'holdoff/shelter/unit-1/cooling-call')).toBe(false);
});

test('a filter takes topics as MQTT 3.1.1 section 4.7 says, and covers what takes no more', () => {
  expect(filterTakes('a/#', 'a')).toBe(true);
  expect(filterTakes('a/+', 'a')).toBe(false);
  expect(filterTakes('#', '$SYS/x')).toBe(false);
  expect(filterTakes('a/+/c', 'a/b/c')).toBe(true);
  expect(filterCovers('a/+', 'a/#')).toBe(false);
  expect(filterCovers('a/+', 'a/+')).toBe(true);
  expect(filterCovers('a/b', 'a/+')).toBe(false);
  expect(filterCovers('a/#', 'a/+/c')).toBe(true);
});
