import { mkdir } from 'node:fs/promises';
import LevelPersistence from 'aedes-persistence-level/asyncPersistence.js';
import { ClassicLevel } from 'classic-level';

/** What the embedded broker keeps through a restart: retained messages, and sessions with what waits for them. */
export interface BrokerStore {
  readonly persistence: InstanceType<typeof LevelPersistence>;
  close(): Promise<void>;
}

export async function openBrokerStore(folder: string): Promise<BrokerStore> {
  await mkdir(folder, { recursive: true });
  const level = new ClassicLevel<string, Buffer>(folder, { valueEncoding: 'buffer' });
  try {
    await level.open();
  } catch (error) {
    const why = (error as { readonly cause?: { readonly code?: unknown } }).cause?.code;
    if (why !== 'LEVEL_LOCKED') throw error;
    throw new Error(
      `Another process uses the broker’s data in ${folder}. Stop it, or set another DATA_DIR.`,
      {
        cause: error,
      },
    );
  }
  return { persistence: new LevelPersistence(level), close: () => level.close() };
}
