import type { MessageBody } from '../../db/notices.ts';
import type { Named } from '../../shared/wire/notice-facts.ts';

/** A notice that is none: marked TEST wherever it is read, shown or read aloud. */
export const DRILL = 'drill:';
export const isDrill = (alarm: string): boolean => alarm.startsWith(DRILL);

export interface DrillFacts {
  readonly kind: 'drill';
  readonly site: Named;
  /** who sent it */
  readonly by: string;
}

/** Told at once, at any hour: whoever proves a site stands there and waits. */
export const AT_ONCE = {
  answer: 'can-wait',
  says: 'TEST: nothing has happened, nobody needs to come.',
  heldUntil: null,
} as const;

export function drillBody(
  { site, by }: DrillFacts,
  alarm: string,
  { link, page }: { readonly link: string; readonly page: string },
): MessageBody {
  const says = `TEST. Nothing has happened at ${site.name}. ${by} proves its wiring and wants to know that this reaches you: answer it.`;
  return {
    subject: `TEST: ${site.name}: nothing has happened, please answer`,
    text: `${says}\n\nAnswer the test: ${link}\nThe site’s proof: ${page}\n\nThis is a TEST. Nobody needs to come.\n`,
    short: `TEST ${site.name}: nothing has happened. Answer: ${link}`,
    spoken: `This is a test. Nothing has happened at ${site.name}. ${by} proves its wiring. Please answer the test by its message or on the page. This was a test.`,
    data: {
      test: true,
      alarm: null,
      drill: alarm,
      site: site.id,
      device: null,
      kind: null,
      cause: null,
      severity: null,
      urgency: AT_ONCE.answer,
      says: AT_ONCE.says,
      since: null,
      url: page,
    },
  };
}
