import type { Span } from '../../base/span.ts';
import type { EventDraft } from '../event.ts';
import { draftAbout } from '../subject-draft.ts';
import type { PanelMoment } from './state.ts';
import { isSupplyKnown, levelOf } from './supply.ts';

/**
 * When the generator fed the panel (contract 4, handbook 5.3). It began when the panel had power while the generator ran
 * and the utility had failed, or, where no contact tells of the utility, when power came back from an outage with the
 * generator running. That the utility is back ends nothing: the transfer does, a short break that the panel's own points
 * see. A break too short to be seen lies between the utility's return and the generator's stop, which lets it cool down.
 */
export interface GeneratorSupply {
  readonly start: Span;
  /** null: it is still away, or no contact tells */
  utilityBack: Span | null;
  readonly certain: boolean;
  /** it fed the panel until a transfer, and runs on to cool down */
  over: boolean;
}

/** A point of the supply changed within `span`; `returned`: power has just come back from an outage. */
export function noteGenerator(moment: PanelMoment, span: Span, returned: boolean): void {
  const { state, place, out } = moment;
  const [running, failed] = [
    levelOf(state.points, 'generator-running'),
    levelOf(state.points, 'utility-failed'),
  ];
  if (state.generator?.over && running === 0) state.generator = null;
  const { generator } = state;
  if (!generator || (generator.over && failed === 1)) {
    const begins =
      running === 1 && state.supply.on === true && (failed === 1 || (failed === null && returned));
    if (begins)
      state.generator = {
        start: span,
        utilityBack: null,
        certain: failed === 1 && isSupplyKnown(state, place),
        over: false,
      };
    return;
  }
  if (generator.over) return;
  const since = generator.utilityBack?.earliest ?? span.earliest;
  const end =
    state.supply.on === false ? span : running === 0 ? { earliest: since, latest: span.latest } : null;
  if (end) {
    out.event(generatorEvent(moment, generator, end));
    state.generator = running === 0 ? null : { ...generator, over: true };
  } else if (failed === 0) generator.utilityBack ??= span;
}

/** `end` null: it lasts. */
export function generatorEvent(moment: PanelMoment, supply: GeneratorSupply, end: Span | null): EventDraft {
  const { start, certain } = supply;
  return draftAbout(moment.context.subject, {
    kind: 'generator-supply',
    cause: null,
    start,
    end,
    certainty: certain ? 'certain' : 'probable',
    pending: end ? [] : ['end'],
    evidence: [
      {
        signal: 'generator-running',
        t: start.latest,
        value: 1,
        says: 'the generator ran and the panel had power',
      },
    ],
  });
}
