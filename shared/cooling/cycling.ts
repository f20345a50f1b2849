/**
 * The cycling curve of a thermostat (handbook 6; NEMA/Henderson form, from memory): N = 4·Nmax·X(1 − X) starts an hour at
 * run fraction X, with `most` = Nmax starts an hour at half load.
 */
export const startsPerHour = (most: number, runFraction: number): number =>
  4 * most * runFraction * (1 - runFraction);

/** Minutes on in each cycle. */
export const onMinutes = (most: number, runFraction: number): number => 15 / (most * (1 - runFraction));

/** Minutes off in each cycle. */
export const offMinutes = (most: number, runFraction: number): number => 15 / (most * runFraction);
