/**
 * How bad an alarm is, in the words of ITU-T X.733. `warning` and `indeterminate` of that list aren't used: what needs
 * nobody's timely response is a task or an event (handbook 7).
 */
export const SEVERITIES = ['critical', 'major', 'minor'] as const;
export type Severity = (typeof SEVERITIES)[number];

const RANK: Record<Severity, number> = { critical: 2, major: 1, minor: 0 };

export const isWorse = (a: Severity, than: Severity): boolean => RANK[a] > RANK[than];

/** The worst of several, and of a first one. */
export const worst = (first: Severity, others: readonly Severity[]): Severity =>
  others.reduce((most, one) => (isWorse(one, most) ? one : most), first);
