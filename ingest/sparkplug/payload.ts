import { gunzipSync, inflateSync } from 'node:zlib';
import protobuf from 'protobufjs/minimal.js';
import { readMetric, within, type Metric } from './metric.ts';

/** A Sparkplug B payload (Sparkplug 3.0 section 6.4) as far as a host that listens needs it. */
export interface Payload {
  /** when it was sent, Unix ms; null: it doesn't say */
  readonly timestamp: number | null;
  readonly seq: number | null;
  readonly metrics: readonly Metric[];
}

export type ParsedPayload =
  | { readonly ok: true; readonly payload: Payload }
  | { readonly ok: false; readonly reason: 'payload-empty' | 'payload-too-large' | 'payload-not-sparkplug' };

/** The largest payload that is taken, in bytes, also once it is inflated. */
const LARGEST_PAYLOAD = 1_000_000;
const MOST_METRICS = 100_000;

/** Never throws: bytes that aren't this protocol buffer, or end too soon, say nothing at all. */
export function parseSparkplugPayload(bytes: Uint8Array): ParsedPayload {
  if (bytes.length === 0) return { ok: false, reason: 'payload-empty' };
  if (bytes.length >= LARGEST_PAYLOAD) return { ok: false, reason: 'payload-too-large' };
  try {
    const outer = readPayload(bytes);
    const { body } = outer;
    if (outer.uuid !== COMPRESSED || body === null) return { ok: true, payload: outer };
    return { ok: true, payload: readPayload(inflated(body, outer.metrics)) };
  } catch {
    return { ok: false, reason: 'payload-not-sparkplug' };
  }
}

interface WholePayload extends Payload {
  readonly uuid: string;
  readonly body: Uint8Array | null;
}

/** message Payload: 1 timestamp, 2 metrics, 3 seq, 4 uuid, 5 body. */
function readPayload(bytes: Uint8Array): WholePayload {
  const reader = protobuf.Reader.create(bytes);
  const metrics: Metric[] = [];
  let [timestamp, seq]: [number | null, number | null] = [null, null];
  let uuid = '';
  let body: Uint8Array | null = null;
  while (reader.pos < reader.len) {
    const tag = reader.uint32();
    if (tag === 0x08) timestamp = Number(reader.uint64());
    else if (tag === 0x12) metrics.push(readMetric(reader, within(reader, reader.len)));
    else if (tag === 0x18) seq = Number(reader.uint64());
    else if (tag === 0x22) uuid = reader.string();
    else if (tag === 0x2a) body = reader.bytes();
    else reader.skipType(tag & 7);
    if (metrics.length > MOST_METRICS) throw new RangeError('too many metrics');
  }
  return { timestamp, seq, metrics, uuid, body };
}

/** How clients mark a payload that holds another one, compressed (section 6.3). */
const COMPRESSED = 'SPBV1.0_COMPRESSED';

function inflated(body: Uint8Array, metrics: readonly Metric[]): Uint8Array {
  const how = metrics.find(({ name }) => name === 'algorithm')?.value;
  const bound = { maxOutputLength: LARGEST_PAYLOAD };
  return how?.field === 'string' && how.value === 'GZIP' ? gunzipSync(body, bound) : inflateSync(body, bound);
}

/** The rebirth request: an NCMD that writes true to `Node Control/Rebirth` (section 6.4.23); it has no sequence number. */
export function rebirthRequest(nowMs: number): Uint8Array {
  const writer = protobuf.Writer.create();
  writer.uint32(0x08).uint64(nowMs);
  writer.uint32(0x12).fork();
  writer.uint32(0x0a).string('Node Control/Rebirth');
  writer.uint32(0x18).uint64(nowMs);
  writer.uint32(0x20).uint32(BOOLEAN);
  writer.uint32(0x70).bool(true);
  return writer.ldelim().finish();
}

const BOOLEAN = 11;
