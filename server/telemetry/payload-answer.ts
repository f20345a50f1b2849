/** A payload that was set aside, as far as it was kept: as text where it is UTF-8, else in hexadecimal. */
export function payloadAnswer({
  payload,
  payloadBytes,
}: {
  readonly payload: Buffer;
  readonly payloadBytes: number;
}) {
  const text = asText(payload, payload.length < payloadBytes ? 3 : 0);
  return {
    payload: text ?? payload.toString('hex'),
    encoding: text === null ? ('hex' as const) : ('utf-8' as const),
    payloadBytes,
  };
}

/** UTF-8 or null. Where the payload was cut, the cut may have parted the last letter, which is left out then. */
function asText(payload: Buffer, mayCut: number): string | null {
  for (let cut = 0; cut <= mayCut; cut++) {
    try {
      return new TextDecoder('utf-8', { fatal: true }).decode(payload.subarray(0, payload.length - cut));
    } catch {
      // not whole letters up to here: one byte less
    }
  }
  return null;
}
