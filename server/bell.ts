import { setTimeout as delay } from 'node:timers/promises';

/**
 * How a loop waits for work: take `next` before looking, look, then `rest` until it rings or the time is over. A ring that
 * comes while it looks isn't lost. Everybody who waits hears it.
 */
export interface Bell {
  ring(): void;
  next(): Promise<void>;
  /** nothing more is to be done */
  readonly ended: Promise<void>;
}

/** Rings for the last time when `signal` is raised. */
export function makeBell(signal: AbortSignal): Bell {
  let ring = () => {};
  const renew = () => new Promise<void>((resolve) => (ring = resolve));
  let rung = renew();
  const ended = new Promise<void>((resolve) =>
    signal.addEventListener('abort', () => {
      ring();
      resolve();
    }),
  );
  return {
    ring() {
      ring();
      if (!signal.aborted) rung = renew();
    },
    next: () => rung,
    ended,
  };
}

/** So long, or until something happens; no timer outlives it. */
export async function rest(milliseconds: number, until: Promise<void>): Promise<void> {
  const over = new AbortController();
  await Promise.race([until, delay(milliseconds, undefined, { signal: over.signal }).catch(() => {})]);
  over.abort();
}
