import type { MessageReason } from '../people/telling.ts';

/** What a device is sent and its service worker shows: the short form of a notice, and which alarm it is of. */
export interface PushMessage {
  readonly title: string;
  readonly body: string;
  /** null: a test */
  readonly alarm: string | null;
  /** messages of one notice take each other's place */
  readonly tag: string;
  /** asks for an answer: it stays until somebody touches it, and makes itself heard again */
  readonly insists: boolean;
}

interface Told {
  readonly notice: string | null;
  readonly reason: string;
  readonly body: { readonly short: string; readonly data: unknown };
}

const QUIET: ReadonlySet<string> = new Set<MessageReason | 'digest'>(['cleared', 'taken', 'test', 'digest']);

/** Its link is left out: touching the notification opens the alarm, and a screen that is locked shows no key to it. */
export function pushMessage({ notice, reason, body: { short, data } }: Told): PushMessage {
  const { alarm } = data as { alarm?: unknown };
  const text = short.replace(/\s*(Accept: |It came from )?https?:\S+$/, '');
  const [, title = text, rest = ''] = /^(.+?) (\d\d:\d\d[.,].*)$/.exec(text) ?? [];
  return {
    title,
    body: rest,
    alarm: typeof alarm === 'string' ? alarm : null,
    tag: notice ?? reason,
    insists: !QUIET.has(reason),
  };
}
