/**
 * Acknowledgements of a batch as bytes for one write: fixed header 0x40, remaining length 2, packet identifier (MQTT 3.1.1
 * section 3.4; MQTT 5 section 3.4.2.1 lets reason code and properties be left out when the reason is success).
 */
export function pubacks(packetIds: readonly number[]): Buffer {
  const bytes = Buffer.allocUnsafe(packetIds.length * 4);
  for (const [i, id] of packetIds.entries()) bytes.writeUInt32BE(0x40020000 + id, i * 4);
  return bytes;
}
