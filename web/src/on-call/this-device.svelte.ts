import type { ChannelAsk } from '../../../shared/wire/on-call-answer.ts';
import { browserWords } from '../account/browser-words.ts';
import { subscription } from '../net/own-device.ts';

/** This device as somewhere that notices can be pushed to. Permission is asked for by pressing a button and at no other time. */
const PATIENCE_MS = 20_000;

class ThisDevice {
  /** where messages to this device go; null: not subscribed */
  endpoint = $state<string | null>(null);

  /** Why it can't be subscribed at all; null: it can. */
  get hindrance(): string | null {
    if (!('serviceWorker' in navigator) || !('PushManager' in globalThis))
      return isSecureContext
        ? 'This browser shows no pushed messages. On an iPhone or iPad put the page on the home screen first.'
        : 'Browsers take pushed messages over HTTPS alone.';
    return null;
  }

  async look(): Promise<void> {
    this.endpoint = (await subscription())?.endpoint ?? null;
  }

  /** Asks for permission and subscribes: what is then sent to the server, or why not. */
  async subscribe(pushKey: string): Promise<ChannelAsk | string> {
    const permission = await Notification.requestPermission();
    if (permission !== 'granted')
      return 'This browser doesn’t let the page show messages: allow it in the browser’s settings for this page.';
    try {
      const { pushManager } = await navigator.serviceWorker.ready;
      const made =
        (await pushManager.getSubscription()) ??
        (await Promise.race([
          pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: pushKey }),
          unanswered(),
        ]));
      this.endpoint = made.endpoint;
      const { p256dh = '', auth = '' } = made.toJSON().keys ?? {};
      return {
        kind: 'web-push',
        address: made.endpoint,
        keys: { p256dh, auth },
        label: browserWords(navigator.userAgent),
      };
    } catch (error) {
      return `This device couldn’t be subscribed: ${(error as Error).message}`;
    }
  }
}
/** A browser that doesn't reach its push service may wait for ever. */
const unanswered = (): Promise<never> =>
  new Promise((_, fail) =>
    setTimeout(() => fail(new Error('its browser’s push service doesn’t answer.')), PATIENCE_MS),
  );
export const thisDevice = new ThisDevice();
