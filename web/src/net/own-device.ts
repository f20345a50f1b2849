/** The subscription of this device to pushed messages, as its browser has it; null: none. */
export async function subscription(): Promise<PushSubscription | null> {
  const registration = await navigator.serviceWorker?.getRegistration();
  return (await registration?.pushManager?.getSubscription()) ?? null;
}

/** Whoever has this device next isn't told what its last person is told. */
export async function leaveDevice(): Promise<void> {
  await (await subscription())?.unsubscribe();
}
