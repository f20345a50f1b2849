/** The package brings no types. aedes 1.2 asks for the asynchronous form of its store. */
declare module 'aedes-persistence-level/asyncPersistence.js' {
  import type { ClassicLevel } from 'classic-level';

  const LevelPersistence: new (level: ClassicLevel<string, Buffer>) => {
    setup(broker: unknown): Promise<void>;
  };
  export default LevelPersistence;
}
