import type { Logger } from 'pino';
import type { DatabaseObservation } from '../db/pool.ts';
import type { Subject } from '../shared/inference/event.ts';
import type { DecideObservation } from './alarms/decider.ts';
import type { FollowObservation } from './follow/follower.ts';
import type { Metrics } from './http/metrics.ts';

/** What parts of the server tell, as lines of the log and as counters. */
export interface Heard {
  readonly metrics: Metrics;
  readonly logger: Logger;
}

/** The parts that lines of the log are told apart by. */
type PartName =
  'follow' | 'alarms' | 'notices' | 'live' | 'replay' | 'series' | 'accounts' | 'database' | 'watcher';

export const ofPart = (logger: Logger, part: PartName): Logger => logger.child({ part });

/** How a loop says that it failed, and goes on. */
export const failureOf =
  (logger: Logger, part: PartName, sentence: string) =>
  (error: unknown): void =>
    ofPart(logger, part).error({ err: error }, sentence);

const ofSubject = ({ kind, site, device }: Subject) => ({ site, subject: `${kind}/${device}` });

export function hearFollower({ metrics, logger }: Heard): (observation: FollowObservation) => void {
  const says = ofPart(logger, 'follow');
  return (observation) => {
    switch (observation.kind) {
      case 'stepped': {
        const { subject, outcome, milliseconds } = observation;
        metrics.steps.inc({ kind: subject.kind, outcome: outcome.kind });
        metrics.stepSeconds.observe({ kind: subject.kind }, milliseconds / 1000);
        if (outcome.kind === 'stopped')
          says.error({ ...ofSubject(subject), reason: outcome.reason }, 'inference has stopped');
        return;
      }
      case 'step-failed':
        return says.error(
          { err: observation.error, ...ofSubject(observation.subject) },
          'a step failed; it is tried again',
        );
      case 'look-failed':
        return says.error({ err: observation.error }, 'looking for work failed; it is tried again');
    }
  };
}

export function hearDecider({ metrics, logger }: Heard): (observation: DecideObservation) => void {
  const says = ofPart(logger, 'alarms');
  return (observation) => {
    if (observation.kind === 'decide-failed') {
      const site = observation.site ?? undefined;
      return says.error({ err: observation.error, site }, 'deciding on alarms failed; it is tried again');
    }
    metrics.alarmSteps.inc();
    metrics.alarmSeconds.observe(observation.milliseconds / 1000);
    for (const { what } of observation.decision?.changes ?? []) metrics.alarmChanges.inc({ what });
  };
}

export function hearDatabase({ metrics, logger }: Heard): (observation: DatabaseObservation) => void {
  const says = ofPart(logger, 'database');
  return (observation) => {
    if (observation.kind === 'retried') {
      const { transaction, reason, attempt } = observation;
      metrics.databaseRetries.inc({ reason });
      return says.debug({ reason, attempt, transaction }, 'a transaction is tried again');
    }
    metrics.databaseLost.inc();
    says.warn({ err: observation.error }, 'a connection to the database broke');
  };
}
