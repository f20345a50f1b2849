import type { Instant } from '../../base/instant.ts';
import { signalRow } from '../../telemetry/signals.ts';
import type { UnitEdge } from '../edge.ts';
import type { Fold, FoldContext, Output } from '../fold.ts';
import { closeChains, nextChainEnd, ownPoint, takeKnowledge, takeReading } from '../members/own-points.ts';
import { isGatewaysSilence, noteGateway } from '../members/gateway-silence.ts';
import { newPicture, takeIntoPicture } from '../members/picture.ts';
import { placeAt } from '../members/place.ts';
import {
  enqueue,
  intervalItem,
  isOwnKey,
  signalOfKey,
  type Item,
  type ReadingItem,
} from '../members/queue.ts';
import { advance, earlier, everyRow, taking, upTo, waitingFor, type Steps } from '../members/taking.ts';
import { silentPoint } from '../subject-draft.ts';
import { noteGenerator } from './generator.ts';
import { takePowerAway, takePowerBack, takeSupplyReturn } from './losses.ts';
import { cautious, notePower } from './power-loss.ts';
import { passRestarts, restartDue, takeCall, takeRestart } from './restart.ts';
import { showPanel } from './show.ts';
import { loseChannel, takeLooks } from './excursions.ts';
import type { Look } from './look.ts';
import { newPanelState, type PanelMoment, type PanelState } from './state.ts';
import { isLine, lineLevel, noteSupplyChange, supplyNow, takeSupplyChange, utilityNow } from './supply.ts';
import type { Edge, Value } from '../track.ts';
import { pointKey } from '../sources.ts';
import { closeGroups, takeStart, togetherDue } from './together.ts';
import { tellContactOutage, tellSharedLoss, tellSilentOutage } from './unmetered.ts';
import { isMeasured } from './excursion-event.ts';

/**
 * What happened on a panel (handbook 5.1 "No meter needed", 5.3): power's return and who restarted when, starts closer
 * together than the panel's minimum, its own points' silences. Rows wait in a queue and are applied one instant after the
 * other up to the frontier, with what is due in between, so that no decision leans on a row after it.
 */
export const panelFold: Fold<PanelState> = {
  ...taking,
  kind: 'panel',
  version: 17,
  start: newPanelState,
  takeInterval: (state, context, source, interval) =>
    enqueue(state.queue, intervalItem(context, source, interval)),
  waiting: (state) => waitingFor(state.queue, nextDue(state)),
  settle(state, context, frontier, out) {
    advance(stepsOf(state, context, out), upTo(frontier));
  },
  /** what the meter saw leans on it, a loss on its unit (`cautious` asks whether it is known), a silence on its point */
  leansOn: (event, { sources }) => {
    if (event.kind === 'telemetry-gap') return sources.filter(({ key }) => key === event.point);
    if (isMeasured(event)) return sources.filter(({ signal }) => signal !== null && isLine(signal));
    return event.kind === 'power-loss' ? [] : null;
  },
  leansOnMember: ({ kind, unit }) => (kind === 'power-loss' ? unit : null),
  conclude(state, context, frontier, now, out) {
    const moment = { state, context, place: placeAt(context, now), t: now, out };
    const said = cautious(context, out);
    advance(stepsOf(state, context, said), everyRow(frontier));
    return showPanel(moment, said);
  },
};

const nextDue = (state: PanelState): Instant =>
  Math.min(nextChainEnd(state.points) ?? Infinity, state.due ?? Infinity);

function stepsOf(state: PanelState, context: FoldContext, out: Output): Steps {
  const at = (t: Instant, act: (moment: PanelMoment) => void): void => {
    const moment = { state, context, place: placeAt(context, t), t, out };
    act(moment);
    state.due = earlier(restartDue(moment), togetherDue(moment));
  };
  return {
    queue: state.queue,
    nextDue: () => nextDue(state),
    rows: (t, items) => at(t, (moment) => applyInstant(moment, items)),
    due: (t) => at(t, pass),
  };
}

/** What is due at this instant, because nothing came. */
function pass(moment: PanelMoment): void {
  for (const [key, edge] of closeChains(moment.state.points, moment.t)) ownChanged(moment, key, edge);
  closeGroups(moment);
  passRestarts(moment);
}

function applyInstant(moment: PanelMoment, items: readonly Item[]): void {
  for (const item of items) apply(moment, item);
  const looks = items.flatMap((item) => lookOf(moment, item) ?? []);
  if (looks.length > 0) takeLooks(moment, looks);
}

/** What the item says of a line voltage; null: nothing. */
function lookOf(moment: PanelMoment, item: Item): Look | null {
  if (item.kind !== 'value' || item.value === null || !isLine(signalOfKey(item.key))) return null;
  const nominal = moment.place.panel?.nominalVoltage ?? Infinity;
  const { key, t } = item;
  const { from, least, most, mean } = item.interval ?? {
    from: t,
    least: item.value,
    most: item.value,
    mean: null,
  };
  return {
    key,
    from,
    to: t,
    least: least / nominal,
    most: most / nominal,
    mean: mean === null ? null : mean / nominal,
    doubt: item.onChange ? item.resolution : 0,
    deadband: deadbandOf(moment, item),
  };
}

/** Per unit of declared voltage; null: the point is polled. */
function deadbandOf({ place }: PanelMoment, { key, onChange, interval }: ReadingItem): number | null {
  if (!onChange || interval) return null;
  const point = place.points.find((one) => pointKey(one) === key);
  return (point?.deadband ?? 0) / (place.panel?.nominalVoltage ?? 1);
}

function apply(moment: PanelMoment, item: Item): void {
  if (item.kind === 'edge') applyEdge(moment, item.edge);
  else if (item.kind === 'value') applyReading(moment, item);
  else if (item.kind === 'gateway-lost' || item.kind === 'gateway-back')
    noteGateway(moment.state.gateways, item.gateway, item.t, item.kind === 'gateway-back');
  else if (item.kind !== 'settings') applyKnowledge(moment, item);
}

function applyEdge(moment: PanelMoment, edge: UnitEdge): void {
  const { state } = moment;
  const picture = (state.units[edge.unit] ??= newPicture());
  const powerKnown = picture.power.on !== null;
  takeIntoPicture(picture, edge);
  notePower(moment, edge);
  tellSharedLoss(moment, edge);
  if (edge.kind === 'power-away') takePowerAway(moment, edge);
  else if (edge.kind === 'power-back') takePowerBack(moment, edge);
  else if (edge.kind === 'call-on') takeCall(moment, edge);
  else if (edge.kind === 'start') {
    tellSilentOutage(moment, edge);
    const afterReturn = takeRestart(moment, edge);
    takeStart(moment, { unit: edge.unit, span: edge.span, certain: edge.certain, afterReturn, powerKnown });
  }
}

function applyReading(moment: PanelMoment, item: ReadingItem): void {
  const own = ownPoint(moment.state.points, item.key);
  const signal = signalOfKey(item.key);
  const contact = signalRow(signal).kind === 'contact';
  if (!contact && !isLine(signal)) return;
  if (!contact && item.value === null && item.onChange) loseChannel(moment, item.key);
  const nominal = moment.place.panel?.nominalVoltage ?? 0;
  const level = contact ? item.value : lineLevelOf(item, nominal, own.track.raw);
  for (const edge of takeReading(own, item, level)) ownChanged(moment, item.key, edge);
}

/** Where the line stands, of an interval where it stood all the time; null: not known. */
function lineLevelOf({ value, interval }: ReadingItem, nominal: number, was: Value): number | null {
  if (value === null) return null;
  const [least, most] = [interval?.least ?? value, interval?.most ?? value].map((volts) =>
    lineLevel(volts, nominal, was),
  );
  return least === most ? least! : null;
}

function applyKnowledge(moment: PanelMoment, item: Item & { kind: 'lost' | 'back' }): void {
  const { context, state, out } = moment;
  const own = ownPoint(state.points, item.key);
  const { key, t } = item;
  if (item.kind === 'back' && own.silentSince !== null && isOwnKey(context.subject, key)) {
    const gap = { key, since: own.silentSince, until: t };
    if (!isGatewaysSilence(state.gateways, context, gap))
      out.event(silentPoint(context.subject, key, gap.since, t));
  }
  if (item.kind === 'lost') loseChannel(moment, key);
  for (const edge of takeKnowledge(own, item)) ownChanged(moment, item.key, edge);
}

function ownChanged(moment: PanelMoment, key: string, edge: Edge): void {
  const { state } = moment;
  noteSupplyChange(state, key, edge);
  const span = { earliest: edge.earliest, latest: edge.latest };
  takeSupplyChange(state.utility, utilityNow(state.points), span);
  const ended = takeSupplyChange(state.supply, supplyNow(state.points), span);
  noteGenerator(moment, span, ended !== null);
  if (!ended) return;
  takeSupplyReturn(moment, ended);
  tellContactOutage(moment, ended);
}
