import { expect, test } from 'vitest';
import { BrokerLog } from '../../ingest/receive/broker-log.ts';

/** Lines as a Mosquitto 2.0.11 wrote them with `log_type all`. */
const read = (...lines: string[]) => {
  const log = new BrokerLog();
  return lines.map((line) => log.read(line)).filter((one) => one !== null);
};

test('a refused connection is told with the address that it came from', () => {
  expect(
    read(
      '1795731976: New connection from ::ffff:192.0.2.7:45828 on port 21883.',
      '1795731976: Sending CONNACK to 192.0.2.7 (0, 5)',
      '1795731976: Client <unknown> disconnected, not authorised.',
    ),
  ).toEqual([{ why: 'not-authorised', username: '', address: '192.0.2.7', client: '', detail: '' }]);
});

test('a denied publish is told with the user, as whom its client came', () => {
  expect(
    read(
      "2026-11-26T22:26:17: New client connected from 192.0.2.7:45836 as gw-1 (p2, c1, k60, u'school.gateway.1f').",
      "2026-11-26T22:26:17: Denied PUBLISH from gw-1 (d0, q1, r0, m1, 'holdoff/other/x', ... (1 bytes))",
    ),
  ).toEqual([
    {
      why: 'publish-elsewhere',
      username: 'school.gateway.1f',
      address: '192.0.2.7',
      client: 'gw-1',
      detail: 'holdoff/other/x',
    },
  ]);
});

test.each([
  ['error:0A000086:SSL routines::certificate verify failed', 'certificate-refused'],
  ['error:0A0000C7:SSL routines::peer did not return a certificate', 'certificate-refused'],
  ['error:0A00010B:SSL routines::wrong version number', 'no-tls'],
  ['error:0A000126:SSL routines::unexpected eof while reading', 'tls-failed'],
])('%s is told as %s', (error, why) => {
  expect(
    read(
      '1795731978: New connection from 192.0.2.8:45966 on port 28883.',
      `1795731978: OpenSSL Error[0]: ${error}`,
      '1795731978: Client <unknown> disconnected: Protocol error.',
    ),
  ).toEqual([{ why, username: '', address: '192.0.2.8', client: '', detail: error }]);
});

test('whose first bytes are no handshake, there before one could begin, is told in one line', () => {
  const error = 'error:0A00010B:SSL routines::wrong version number';
  expect(read(`1795752563: Client connection from ::ffff:192.0.2.8 failed: ${error}.`)).toEqual([
    { why: 'no-tls', username: '', address: '192.0.2.8', client: '', detail: error },
  ]);
});

test('whoever leaves as they should is no refusal', () => {
  expect(
    read(
      "1: New client connected from 192.0.2.7:45836 as gw-1 (p2, c1, k60, u'a').",
      '1: Received DISCONNECT from gw-1',
      '1: Client gw-1 disconnected.',
      '1: Client gw-1 closed its connection.',
    ),
  ).toEqual([]);
});
