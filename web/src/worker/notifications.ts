/// <reference lib="webworker" />
import type { PushMessage } from '../../../shared/wire/push-message.ts';
import { alarmHref } from '../address/place.ts';

/** What a push message shows, and where touching it leads. */
const UNREADABLE: PushMessage = {
  title: 'Holdoff has something to tell',
  body: 'Open it to see what.',
  alarm: null,
  tag: 'unreadable',
  insists: true,
};

/** Something is shown in any case: browsers take the right away from a page that stays silent. */
export async function show(
  registration: ServiceWorkerRegistration,
  pushed: PushMessageData | null,
): Promise<void> {
  const { title, body, alarm, tag, insists } = readPush(pushed);
  // not in the types of every browser's notifications
  const options: NotificationOptions & { renotify: boolean } = {
    body,
    tag,
    renotify: insists,
    requireInteraction: insists,
    icon: '/icon-192.png',
    data: { path: alarm === null ? '/alarms' : alarmHref(alarm) },
  };
  await registration.showNotification(title, options);
}

function readPush(pushed: PushMessageData | null): PushMessage {
  try {
    const message = pushed?.json() as Partial<PushMessage> | undefined;
    return typeof message?.title === 'string' ? { ...UNREADABLE, body: '', ...message } : UNREADABLE;
  } catch {
    return UNREADABLE;
  }
}

/** A page of ours that is open goes there, and comes to the front; else one is opened. */
export async function open(clients: Clients, notification: Notification): Promise<void> {
  notification.close();
  const { path } = notification.data as { path: string };
  const [page] = await clients.matchAll({ type: 'window' });
  const shown = await page?.navigate(path).catch(() => null);
  if (shown) await shown.focus();
  else await clients.openWindow(path);
}
