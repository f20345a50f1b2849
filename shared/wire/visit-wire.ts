import type { Instant } from '../base/instant.ts';
import type { Bounds, Span } from '../base/span.ts';
import type { CheckSeen } from '../visit/hints.ts';
import type { Findings } from '../visit/findings.ts';
import type { Watch } from '../visit/watch.ts';
import type { OwnerStep } from '../people/ownership.ts';
import { wireInstant, wireSpan } from './standing-wire.ts';
import type { FindingsAnswer, StepAnswer, VisitAnswer, WatchAnswer } from './visit-answer.ts';

/** Between what is decided about a visit and the wire, by hand. */
const NOTHING: Omit<WatchAnswer, 'kind'> = {
  at: null,
  lookAt: null,
  until: null,
  needSeconds: null,
  ranSeconds: null,
  failedRunSeconds: null,
  missing: null,
  by: null,
  cause: null,
  event: null,
  isSure: true,
  isOver: false,
};

export function wireWatch(watch: Watch, failedRunSeconds: Bounds | null): WatchAnswer {
  const base = { ...NOTHING, kind: watch.kind, failedRunSeconds };
  switch (watch.kind) {
    case 'standing':
    case 'not-known':
      return base;
    case 'waiting':
      return { ...base, needSeconds: watch.needSeconds, ranSeconds: watch.lastRan };
    case 'running':
      return {
        ...base,
        at: wireSpan(watch.since),
        needSeconds: watch.needSeconds,
        lookAt: wireInstant(watch.lookAt),
      };
    case 'stopped':
      return { ...base, at: wireSpan(watch.at), by: watch.by, cause: watch.cause, event: watch.event };
    case 'holding': {
      const { ranSeconds, until, missing, isOver } = watch;
      return { ...base, ranSeconds: [ranSeconds, ranSeconds], until: wireInstant(until), missing, isOver };
    }
    case 'proven':
      return { ...base, at: wireSpan(exact(watch.at)), isOver: true };
    case 'failed':
      return { ...base, at: wireSpan(watch.at), event: watch.event, isSure: watch.isSure, isOver: true };
  }
}

const exact = (at: Instant): Span => ({ earliest: at, latest: at });

interface Written {
  readonly id: string;
  readonly by: string;
  readonly at: Instant;
  readonly saidAt: Instant | null;
}

const writtenOf = ({ id, by, at, saidAt }: Written) => ({
  id,
  by,
  at: wireInstant(at)!,
  saidAt: wireInstant(saidAt),
});

export const wireStep = (row: Written & { readonly step: OwnerStep }): StepAnswer => ({
  ...writtenOf(row),
  step: row.step,
});

export const wireFindings = (row: Written & { readonly body: Findings }): FindingsAnswer => ({
  ...writtenOf(row),
  ...row.body,
  parts: [...row.body.parts],
  readings: [...row.body.readings],
});

export const wireCheck = ({ id, says, seen }: CheckSeen): VisitAnswer['checks'][number] => ({
  id,
  says,
  bears: seen?.bears ?? null,
  because: seen?.because ?? null,
});
