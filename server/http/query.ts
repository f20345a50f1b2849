import Type from 'typebox';
import { parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { SLUG } from '../../shared/wire/site-document.ts';
import { Refusal } from './refusal.ts';

/** Parameters that several routes take, and how they are read. */
export const Slug = Type.String({ pattern: SLUG });
export const SiteParameter = Type.Object({ site: Slug });
const InstantText = Type.String({ maxLength: 40, description: 'ISO 8601 with its zone' });
export const From = Type.Optional(InstantText);
export const To = Type.Optional(InstantText);
export const Cursor = Type.Optional(Type.String({ maxLength: 400, description: 'from the answer before' }));
export const limit = (standard: number, most: number) =>
  Type.Optional(Type.Integer({ minimum: 1, maximum: most, default: standard }));

export function instantOf(name: string, text: string): Instant {
  const instant = parseInstant(text);
  if (instant !== null) return instant;
  // a plus sign in a query that wasn't encoded arrives as a space
  const mended = parseInstant(text.replace(/ (\d{2}:?\d{2})$/, '+$1'));
  if (mended !== null) return mended;
  throw new Refusal('bad-request', `"${name}" isn’t an instant.`, [
    {
      pointer: `/${name}`,
      message: 'Give an ISO 8601 date and time with its zone, as 2026-03-02T08:15:00Z.',
    },
  ]);
}

export const instantOrNull = (name: string, text: string | undefined): Instant | null =>
  text === undefined ? null : instantOf(name, text);

/** A stretch of time that must have a beginning, an end after it, and no more than so many seconds between. */
export function stretchOf(query: { from: string; to: string }): {
  readonly from: Instant;
  readonly to: Instant;
} {
  const from = instantOf('from', query.from);
  const to = instantOf('to', query.to);
  if (from < to) return { from, to };
  throw new Refusal('bad-request', '"from" must come before "to".', [
    { pointer: '/to', message: 'Give an instant after "from".' },
  ]);
}

/** A place in a list, as text that means nothing to anyone else. */
export const writeCursor = (place: unknown): string =>
  Buffer.from(JSON.stringify(place)).toString('base64url');

export function readCursor<T>(text: string | undefined, fits: (place: unknown) => place is T): T | null {
  if (text === undefined) return null;
  try {
    const place: unknown = JSON.parse(Buffer.from(text, 'base64url').toString());
    if (fits(place)) return place;
  } catch {
    // not JSON: answered below, as any other cursor that isn't ours
  }
  throw new Refusal('bad-request', 'That cursor isn’t one of ours: begin without one.', [
    { pointer: '/cursor', message: 'Give the cursor of the answer before, or none.' },
  ]);
}

/** The last of a list that goes by when things began. */
interface ByStart {
  readonly start: Instant;
  readonly id: string;
}

export const isByStart = (place: unknown): place is ByStart =>
  typeof place === 'object' &&
  place !== null &&
  Number.isSafeInteger((place as ByStart).start) &&
  typeof (place as ByStart).id === 'string';

const A_WEEK = 7 * 86_400 * SECOND;

/** When something was pressed that waited to be sent: within the week before; null: it didn't wait, or that can't be. */
export function saidAtOf(text: string | undefined, now: Instant): Instant | null {
  const said = instantOrNull('saidAt', text);
  return said === null || said > now || now - said > A_WEEK ? null : said;
}
