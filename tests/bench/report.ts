import type { Figures } from './rounds.ts';

/**
 * What is printed: each figure is a ratio to a bare baseline of the same rounds. The rates beside it, with the least and
 * the most, are there to judge the ratio by; they belong to the machine of the moment and are no figures by themselves.
 */
export function say(line = ''): void {
  console.log(line);
}

export function heading(text: string): void {
  say(`\n${text}`);
}

export function ratio(what: string, measured: Figures, baseline: Figures, measure: string): void {
  const share = measured.median / baseline.median;
  say(`  ${digits(share).padStart(7)} ×  ${what}`);
  say(`             ${spread(measured, measure)}  against  ${baseline.name}: ${spread(baseline, measure)}`);
}

export function note(text: string): void {
  say(`             ${text}`);
}

function spread({ rates, median }: Figures, measure: string): string {
  return `${thousands(median)} ${measure} (${thousands(Math.min(...rates))} to ${thousands(Math.max(...rates))})`;
}

const digits = (value: number): string => (value >= 10 ? value.toFixed(0) : value.toPrecision(2));

export function thousands(value: number): string {
  if (value < 1) return value.toPrecision(2);
  return Math.round(value).toLocaleString('en').replaceAll(',', ' ');
}
