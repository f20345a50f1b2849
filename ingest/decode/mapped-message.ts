import { valueAt } from '../../shared/telemetry/json-pointer.ts';
import type { KnownSource } from '../catalogue.ts';
import type { Intake } from './intake.ts';
import { isObject, parsePayload } from './json.ts';
import { takeSignalMessage } from './signal-message.ts';

/** The longest text that is taken as a word where it isn't JSON. */
const LONGEST_WORD = 64;

/**
 * A message of a topic that points name as their source (contract 1.3): each point takes what its pointer leads to. A
 * pointer that leads nowhere says nothing of its point, since many gateways send only what has changed; where none leads
 * anywhere, the message is set aside.
 */
export function takeMappedMessage(intake: Intake, sources: readonly KnownSource[]): void {
  const parsed = parsePayload(intake.message.payload);
  const body = parsed.ok ? parsed.body : wordIn(intake.message.payload, parsed.reason);
  if (body === undefined) {
    if (!parsed.ok) intake.refuse(parsed.reason, 'payload', undefined);
    return;
  }
  const told = sources.map((source) => ({ source, value: valueAt(body, source.pointer) }));
  if (!parsed.ok && told.every(({ value }) => value === undefined))
    return intake.refuse(parsed.reason, 'payload', undefined);
  const found = told.filter(({ value }) => value !== undefined);
  if (found.length === 0) return intake.refuse('pointer-nowhere', 'payload', undefined);
  for (const { source, value } of found) takeValue(intake, source, value, body);
}

/** Text that isn't JSON, such as `ON`: many devices send a topic's one value so. Undefined: it is no such text. */
function wordIn(payload: Uint8Array, reason: string): string | undefined {
  if (reason !== 'payload-not-json' || payload.length > LONGEST_WORD) return undefined;
  const word = Buffer.from(payload).toString('utf8').trim();
  return /^[A-Za-z]+$/.test(word) ? word : undefined;
}

/** Where the source names no time, the value may be any form of contract 1.1, with times of its own. */
function takeValue(intake: Intake, { point, time }: KnownSource, value: unknown, body: unknown): void {
  if (time === null && value !== null) return takeSignalMessage(intake, point, value);
  const claimed = time === null ? undefined : (valueAt(body, time) ?? null);
  if (!isObject(value)) return intake.take(point, { t: claimed, v: value, q: undefined }, () => body);
  takeSignalMessage(intake, point, 't' in value || 't0' in value ? value : { ...value, t: claimed });
}
