import type { PanelStanding } from '../../../shared/inference/standing.ts';

/** ` · 239 V of 240`, or nothing where the line isn't measured. */
export const voltageText = ({ lineVoltage }: PanelStanding, nominal: number): string =>
  lineVoltage === null || lineVoltage.value === null
    ? ''
    : ` · ${lineVoltage.value.toFixed(0)} V of ${nominal}`;
