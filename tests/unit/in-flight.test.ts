import { PassThrough } from 'node:stream';
import { expect, test } from 'vitest';
import { InFlight } from '../../ingest/receive/in-flight.ts';
import type { Observation } from '../../ingest/observation.ts';

const MOST = { messages: 10, bytes: 1_000 };

function line() {
  const told: Observation['kind'][] = [];
  const inFlight = new InFlight(MOST, ({ kind }) => void told.push(kind));
  const taken: string[] = [];
  const letIn: string[] = [];
  const receive = (name: string, bytes = 1) =>
    inFlight.receive(
      bytes,
      () => void taken.push(name),
      () => void letIn.push(name),
    );
  const connect = () => {
    const stream = new PassThrough();
    inFlight.connection = stream;
    return stream;
  };
  return { inFlight, told, taken, letIn, receive, connect };
}

test('what is held back doesn’t grow, however often the connection is lost meanwhile', () => {
  const { inFlight, told, taken, letIn, receive, connect } = line();
  const first = connect();
  for (let i = 0; i < MOST.messages; i++) receive(`first ${i}`);
  expect([taken.length, letIn.length]).toEqual([MOST.messages, MOST.messages - 1]);
  for (let i = 0; i < 1_000; i++) {
    connect();
    receive(`again ${i}`);
  }
  expect([taken.length, letIn.length]).toEqual([MOST.messages, MOST.messages - 1]);
  for (let i = 0; i < 5; i++) inFlight.commit(1, first, i + 1);
  expect(taken.slice(MOST.messages)).toEqual(['again 999']);
  expect(letIn.slice(MOST.messages - 1)).toEqual(['again 999']);
  expect(told).toEqual(['held-back', 'let-go']);
});

test('a new connection that has brought nothing yet is let go like any other', () => {
  const { inFlight, taken, letIn, receive, connect } = line();
  const first = connect();
  receive('large', MOST.bytes);
  connect();
  inFlight.commit(MOST.bytes, first, 1);
  receive('small');
  expect([taken, letIn]).toEqual([['large', 'small'], ['small']]);
});
