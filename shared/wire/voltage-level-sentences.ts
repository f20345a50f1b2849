import type { Bounds } from '../base/span.ts';
import { rangeVolts } from '../power/levels.ts';
import type { SteadyLevel } from '../power/steady-level.ts';
import { lastedText } from './review-words.ts';
import { voltsText } from './starting-dips-sentences.ts';

/** What is said of a panel's steady voltage: beside ANSI C84.1's ranges, and between its three legs. */
export function levelSentences(level: SteadyLevel, panel: string, nominalVolts: number): string[] {
  const { volts, shares, unbalance, singlePhasing } = level;
  const a = voltsText(rangeVolts('A', nominalVolts));
  const stood = `${panel} stood at ${voltsText(volts)}`;
  const outside = outsideText(shares, rangeVolts('B', nominalVolts));
  const sentences =
    shares.A >= 1 - 1e-9
      ? [`${stood}, all the time in range A of ANSI C84.1 (${a}).`]
      : [`${stood}: ${percent(shares.A)} of the time in range A of ANSI C84.1 (${a})${outside}.`];
  if (unbalance)
    sentences.push(
      `Its three voltages were unbalanced by ${unbalance.usual.toFixed(1)} % as a rule, ${unbalance.most.toFixed(1)} % at most.`,
    );
  if (singlePhasing > 0)
    sentences.push(
      `For ${lastedText([600 * singlePhasing, 600 * singlePhasing])} one leg was lost (single-phasing): three-phase motors overheat on two legs.`,
    );
  return sentences;
}

function outsideText(shares: SteadyLevel['shares'], b: Bounds): string {
  const parts = [
    shares.B > 0 ? `${percent(shares.B)} in range B, which is for short times only` : null,
    shares['below B'] > 0
      ? `${percent(shares['below B'])} below ${b[0].toFixed(0)} V, outside of both`
      : null,
    shares['above B'] > 0
      ? `${percent(shares['above B'])} above ${b[1].toFixed(0)} V, outside of both`
      : null,
  ].filter((part) => part !== null);
  return parts.length > 0 ? `, ${parts.join('; ')}` : '';
}

/** One decimal below a percent, so that a little isn't nothing. */
const percent = (share: number): string =>
  `${(100 * share).toFixed(share < 0.01 || (share > 0.99 && share < 1) ? 1 : 0)} %`;
