/** A host application's STATE (Sparkplug 3.0 sections 4.2.3 and 6.4.27): JSON with exactly these two. */
export const statePayload = (online: boolean, timestamp: number): Buffer =>
  Buffer.from(JSON.stringify({ online, timestamp }));

export function saysOffline(payload: Uint8Array): boolean {
  try {
    const said: unknown = JSON.parse(Buffer.from(payload).toString('utf8'));
    return typeof said === 'object' && said !== null && (said as { online?: unknown }).online === false;
  } catch {
    return false; // not our form: nothing that could be answered
  }
}
