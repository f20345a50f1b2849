import type { SampleColumns } from './samples.ts';
import { writeTime } from './values.ts';

/**
 * Samples in the binary form of COPY (PostgreSQL documentation, COPY, "Binary Format"): a signature, then each row with its
 * count of fields and each field with its length, then -1. It is about twice as fast to take in as arrays of parameters.
 */
export const COPY_SAMPLES = 'copy samples (point_id, t, value, quality) from stdin (format binary)';

const SIGNATURE = Buffer.from('PGCOPY\n\xff\r\n\0', 'latin1');
/** signature, flags, length of the header's extension */
const HEADER_BYTES = SIGNATURE.length + 8;
/** int2 fields, then int4 length + value of int4, timestamptz, float8 and int2 */
const ROW_BYTES = 2 + (4 + 4) + (4 + 8) + (4 + 8) + (4 + 2);

export function encodeSamples({ length, pointId, t, value, quality }: SampleColumns): Buffer {
  const bytes = Buffer.allocUnsafe(HEADER_BYTES + length * ROW_BYTES + 2);
  SIGNATURE.copy(bytes);
  bytes.fill(0, SIGNATURE.length, HEADER_BYTES);
  let at = HEADER_BYTES;
  for (let i = 0; i < length; i++) {
    at = bytes.writeInt16BE(4, at);
    at = bytes.writeInt32BE(4, at);
    at = bytes.writeInt32BE(pointId[i]!, at);
    at = bytes.writeInt32BE(8, at);
    writeTime(bytes, t[i]!, at);
    at = bytes.writeInt32BE(8, at + 8);
    at = bytes.writeDoubleBE(value[i]!, at);
    at = bytes.writeInt32BE(2, at);
    at = bytes.writeInt16BE(quality[i]!, at);
  }
  bytes.writeInt16BE(-1, at);
  return bytes;
}
