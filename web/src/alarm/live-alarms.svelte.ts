import type {
  AlarmAnswer,
  AlarmAsk,
  AlarmList,
  TaskAnswer,
  TaskList,
  WorkAnswer,
} from '../../../shared/wire/alarm-answer.ts';
import { followRoom } from '../net/follow-room.ts';
import { fetchAnswer, Refused } from '../net/http.ts';
import { serverClock } from '../net/server-clock.svelte.ts';
import { withAlarms } from './arranged.ts';
import { askAlarm, type AskWords } from './ask-alarm.ts';

/** Every alarm that isn't at rest, and the tasks, live. */
interface Fetched extends AlarmList {
  readonly tasks: readonly TaskAnswer[];
}

export class LiveAlarms {
  alarms = $state.raw<readonly AlarmAnswer[]>([]);
  tasks = $state.raw<readonly TaskAnswer[]>([]);
  works = $state.raw<readonly WorkAnswer[]>([]);
  loaded = $state(false);
  refused = $state.raw<Refused | null>(null);

  follow(): () => void {
    return followRoom<Fetched>({
      room: 'board',
      fetch: fetchAlarms,
      take: (answer) => {
        serverClock.set(answer.serverTime);
        this.alarms = answer.items;
        this.tasks = answer.tasks;
        this.works = answer.works;
        this.loaded = true;
      },
      frame: (frame) => {
        serverClock.set(frame.serverTime);
        if (frame.kind === 'alarm') this.alarms = withAlarms(this.alarms, frame.alarms);
      },
      failed: (refused) => (this.refused = refused),
    });
  }

  /** A work that somebody here has ended. */
  ended(id: string): void {
    this.works = this.works.filter((work) => work.id !== id);
  }

  /** Answers why not; null: done. */
  async ask(alarm: string, ask: AlarmAsk, words: AskWords = {}): Promise<string | null> {
    try {
      this.alarms = withAlarms(this.alarms, [await askAlarm(alarm, ask, words)]);
      return null;
    } catch (error) {
      if (error instanceof Refused) return error.message;
      throw error;
    }
  }
}

/** Every page of both lists as one. */
async function fetchAlarms(signal: AbortSignal): Promise<Fetched> {
  const first = await fetchAnswer<AlarmList>('/alarms', {}, signal);
  const items = [...first.items];
  for (let cursor = first.cursor; cursor !== null;) {
    const next = await fetchAnswer<AlarmList>('/alarms', { cursor }, signal);
    items.push(...next.items);
    cursor = next.cursor;
  }
  const { items: tasks } = await fetchAnswer<TaskList>('/tasks', { limit: 1000 }, signal);
  return { ...first, items, tasks };
}
