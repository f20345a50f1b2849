import { isRuled } from '../../shared/alarms/rules.ts';
import type { AlarmWork } from '../../db/alarms.ts';
import type { EventChanges, StandingEvent } from '../follow/diff-events.ts';

/** What a save of events means for the site's alarms: which of them they are to be decided on for. */
export function alarmWorkOf(changes: EventChanges, before: readonly StandingEvent[]): AlarmWork[] {
  const was = new Map(before.map(({ event }) => [event.id, event]));
  const item = (what: AlarmWork['what']) => (one: { event: { id: string } }) => ({
    eventId: one.event.id,
    what,
  });
  return [
    ...changes.added.filter(({ event }) => isRuled(event)).map(item('added')),
    ...changes.amended.filter(({ event }) => isRuled(event)).map(item('amended')),
    ...changes.withdrawn
      .filter(({ id }) => was.has(id) && isRuled(was.get(id)!))
      .map(({ id }): AlarmWork => ({ eventId: id, what: 'withdrawn' })),
  ];
}
