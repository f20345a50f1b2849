/**
 * Tells copies of one message from two messages: its length and a sum of its bytes (FNV-1a, 32 bits). It is asked only of
 * messages of one edge node with one sequence number.
 */
export function printOf(kind: string, device: string, payload: Uint8Array): string {
  let sum = 0x811c9dc5;
  for (const byte of payload) sum = Math.imul(sum ^ byte, 0x01000193);
  return `${kind} ${device} ${payload.length} ${sum >>> 0}`;
}
