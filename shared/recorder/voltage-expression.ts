import type { AnalogChannel, Recording } from './recording.ts';

/**
 * A voltage of the panel made of a recording's channels: one of them, or the difference of two (line to line from two legs
 * to neutral), times a scale that makes it volts at the panel.
 */
export interface VoltageExpression {
  /** index of the channel */
  readonly channel: number;
  /** index of the channel that is taken from it; null: none */
  readonly minus: number | null;
  readonly scale: number;
}

/** Values in V, one for each sample; NaN: missing. */
export function voltsOf({ analog }: Recording, expression: VoltageExpression): Float64Array {
  const { channel, minus, scale } = expression;
  const [one, other] = [analog[channel]!, minus === null ? null : analog[minus]!];
  return one.values.map((value, i) => scale * (value - (other === null ? 0 : other.values[i]!)));
}

/** How many volts one of the channel's measure is; null: it isn't a voltage. */
function voltsPerMeasure({ measure }: Pick<AnalogChannel, 'measure'>): number | null {
  const found = /^(µ|u|m|k)?(v|volts?)$/i.exec(measure.trim());
  if (!found) return null;
  const prefix = (found[1] ?? '').toLowerCase();
  return prefix === 'k' ? 1000 : prefix === 'm' ? 1e-3 : prefix === '' ? 1 : 1e-6;
}

/** Scales that may bring a channel to volts at the panel: as it is, and across its measuring transformer. */
export function scalesOf(channel: AnalogChannel): readonly Scale[] {
  const volts = voltsPerMeasure(channel);
  if (volts === null) return [];
  const { primary, secondary, side } = channel;
  const asWritten: Scale = { scale: volts, how: 'as written' };
  if (primary === secondary) return [asWritten];
  const across = side === 'secondary' ? primary / secondary : secondary / primary;
  const how =
    side === 'secondary' ? 'times the ratio, to the primary side' : 'by the ratio, to the secondary side';
  return [asWritten, { scale: volts * across, how }];
}

export interface Scale {
  readonly scale: number;
  readonly how: string;
}
