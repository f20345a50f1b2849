import fc from 'fast-check';
import { generate } from 'mqtt-packet';
import { expect, test } from 'vitest';
import { PacketBound } from '../../ingest/receive/packet-bound.ts';

const publish = (bytes: number, topic = 'a/b'): Buffer =>
  generate({ cmd: 'publish', topic, payload: Buffer.alloc(bytes, 0xff), qos: 0, dup: false, retain: false });

const anyPacket = () =>
  fc.oneof(
    fc.integer({ min: 0, max: 20_000 }).map((bytes) => publish(bytes)),
    fc.constant(generate({ cmd: 'pingreq' })),
    fc.constant(
      generate({
        cmd: 'connect',
        clientId: 'x',
        protocolId: 'MQTT',
        protocolVersion: 4,
        clean: true,
        keepalive: 0,
      }),
    ),
  );

test('packets within the bound pass, however they are cut into chunks', () => {
  fc.assert(
    fc.property(
      fc.array(anyPacket(), { maxLength: 8 }),
      fc.array(fc.nat(), { maxLength: 8 }),
      (packets, cuts) => {
        const stream = Buffer.concat(packets);
        const places = [
          0,
          ...cuts.map((cut) => cut % (stream.length + 1)).sort((a, b) => a - b),
          stream.length,
        ];
        const bound = new PacketBound(30_000);
        for (const [i, place] of places.slice(1).entries())
          expect(bound.takes(stream.subarray(places[i], place))).toBe(true);
      },
    ),
    { numRuns: 500 },
  );
});

test('a packet beyond the bound is refused by its header alone', () => {
  const bound = new PacketBound(1_000);
  expect(bound.takes(publish(500))).toBe(true);
  expect(bound.takes(publish(2_000).subarray(0, 3))).toBe(false);
});

test('a length of more than four bytes is none', () => {
  expect(new PacketBound(1e12).takes(Uint8Array.of(0x30, 0x80, 0x80, 0x80, 0x80, 0x80, 1))).toBe(false);
});
