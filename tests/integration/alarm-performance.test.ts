import Schema from 'typebox/schema';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PerformanceAnswer, SuggestionsAnswer } from '../../shared/wire/performance-answer.ts';
import { measureText, performanceLine, suggestionText } from '../../shared/wire/performance-sentences.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { storeMonth } from '../fixtures/alarm-month.ts';

/** A month of alarms on a real database: what is measured of it, for the site and for whoever was asked, and what is suggested. */
let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
  expect(await storeMonth(api)).toHaveLength(8);
});
afterAll(() => api.stop());

const ask = async (query = ''): Promise<PerformanceAnswer> => {
  const { status, body } = await api.get(`/api/alarms/performance${query}`);
  expect(status).toBe(200);
  expect(Schema.Errors(PerformanceAnswer, body)[1]).toEqual([]);
  return body as PerformanceAnswer;
};

test('a site’s month: eight alarms, two of them over within 10 s; each figure names what it was counted from', async () => {
  const answer = await ask('?site=oak');
  expect(performanceLine(answer)).toBe(
    '8 alarms asked for somebody in 30 days; beyond target: fleeting alarms.',
  );
  const measure = (id: string) => answer.measures.find((one) => one.id === id)!;
  // over after 65 and 67 s, raised after 61 s
  expect(measure('fleeting')).toMatchObject({ value: 2, verdict: 'beyond', target: 'none', leansOn: 2 });
  expect(measureText(measure('fleeting'))).toBe('2 alarms of 1 source');
  expect(measureText(measure('to-accept'))).toBe('half of 2 within 3 min, the longest 3 min; 6 not accepted');
  expect(measureText(measure('worst-ten'))).toBe('n/a: 23 alarm sources');
  expect(measureText(measure('in-flood'))).toBe('0 %');
  for (const { id, leans, leansOn } of answer.measures) {
    expect([id, leans.length], id).toEqual([id, Math.min(leansOn, 50)]);
    for (const { alarm } of leans) expect(answer.alarms[alarm!]!.name).toBe('Left unit');
  }
  expect(answer.contributors.map(({ count }) => count)).toEqual([8]);
  expect(answer.measures.every(({ source }) => source.length > 10)).toBe(true);
});

test('whoever was asked reads what they were asked: once an alarm, however many messages', async () => {
  const { people, sites } = await ask();
  expect(people).toMatchObject([{ name: 'ann', asked: 8, messages: 16 }]);
  const accepted = people[0]!.measures.find(({ id }) => id === 'to-accept')!;
  expect(accepted).toMatchObject({ value: 239, beside: { longest: 239, accepted: 2, never: 6 } });
  expect(sites).toEqual([{ id: 'oak', name: 'Oak Street', asked: 8 }]);
});

test('an on-delay of 90 s would have avoided 6 of 8, lived by the machine on the stored events', async () => {
  const { body } = await api.get('/api/sites/oak/alarm-suggestions');
  expect(Schema.Errors(SuggestionsAnswer, body)[1]).toEqual([]);
  const { suggestions, replayed } = body as SuggestionsAnswer;
  expect(suggestions.map(suggestionText)).toEqual([
    'Left unit, no control power: an on-delay of 90 s (now 60 s) would have avoided 6 of 8. The longest of them stood 1 min. The others would have been raised 30 s later.',
  ]);
  expect(replayed).toEqual([{ name: 'Left unit', rule: 'unit-power-loss', raised: 8, replayed: 8 }]);
});

test('a stretch that ends before it begins, or is too long, is refused with what to give', async () => {
  const stretch = (from: string, to: string) => api.get(`/api/alarms/performance?from=${from}&to=${to}`);
  expect((await stretch('2026-03-02T00:00:00Z', '2026-03-01T00:00:00Z')).status).toBe(400);
  expect((await stretch('2026-01-01T00:00:00Z', '2026-06-01T00:00:00Z')).body.detail).toBe(
    'Give a stretch of 92 days at most.',
  );
  expect((await api.get('/api/sites/elm/alarm-suggestions')).status).toBe(404);
});
