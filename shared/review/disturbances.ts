import type { EventDraft } from '../inference/event.ts';
import type { SiteShare } from './group.ts';
import { merged, type Stretch } from './stretches.ts';

/** What the supply of one panel did in a power event. */
export interface PanelSupply {
  readonly panel: string;
  /** without power: losses that the supply caused, and interruptions; overlapping ones as one */
  readonly away: readonly Stretch[];
  /** dips that left some voltage: one around a loss is the loss’s beginning and end */
  readonly sags: readonly Dip[];
  readonly onGenerator: readonly Stretch[];
  /** ids of the events that say so */
  readonly evidence: readonly string[];
}

export interface Dip extends Stretch {
  readonly event: string;
  /** per unit of declared voltage [least, most]; null: not measured */
  readonly residual: readonly [number, number] | null;
}

export function panelSupplies(share: SiteShare, events: readonly EventDraft[]): PanelSupply[] {
  const ids = new Set(share.facts.map(({ id }) => id));
  const own = events.filter(({ id }) => ids.has(id));
  return share.panels.map((panel) => {
    const of = own.filter((event) => event.panel === panel);
    const lost = of.filter(({ kind, cause }) => kind === 'power-loss' && cause === 'supply');
    // where units tell of a loss, what a slower meter says of it is no other
    const alone = of.filter(
      (event) => event.kind === 'interruption' && !lost.some((loss) => touch(loss, event)),
    );
    const away = [...lost, ...alone];
    const sags = of
      .filter((event) => event.kind === 'voltage-sag' && !away.some((one) => touch(one, event)))
      .map(dipOf);
    return {
      panel,
      away: merged(away.map(stretchOf)),
      sags: sags.sort((a, b) => a.from.latest - b.from.latest),
      onGenerator: merged(of.filter(({ kind }) => kind === 'generator-supply').map(stretchOf)),
      evidence: [...away.map(({ id }) => id), ...sags.map(({ event }) => event)],
    };
  });
}

const touch = (a: EventDraft, b: EventDraft): boolean =>
  a.start.earliest <= (b.end?.latest ?? Infinity) && b.start.earliest <= (a.end?.latest ?? Infinity);

/** Everything that may have dropped a unit, in order. */
export const disturbances = ({ away, sags }: PanelSupply): Stretch[] =>
  [...away, ...sags].sort((a, b) => a.from.latest - b.from.latest);

export const stretchOf = ({ start, end }: Pick<EventDraft, 'start' | 'end'>): Stretch => ({
  from: start,
  to: end,
});

export function dipOf(event: EventDraft): Dip {
  const measured = event.measures['residualPerUnit'];
  const residual = Array.isArray(measured)
    ? (measured as unknown as readonly [number, number])
    : typeof measured === 'number'
      ? ([measured, measured] as const)
      : null;
  return { ...stretchOf(event), event: event.id, residual };
}
