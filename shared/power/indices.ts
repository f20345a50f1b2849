import type { Excursion } from './excursion.ts';

/** Figures over many events: sags [IEEE 1564] and interruptions of service [IEEE 1366], handbook 5.1. */

/** Sag energy (1 − V²) · T in seconds, summed over the phases, of which each has its own residual and duration. */
export const sagEnergy = (phases: readonly Pick<Excursion, 'residual' | 'seconds'>[]): number =>
  phases.reduce((sum, { residual, seconds }) => sum + (1 - residual ** 2) * (seconds ?? 0), 0);

/** SARFI-x: how many of those served had a sag below x, a year or whatever the stretch is: Σ Nᵢ / N_T. */
export function sarfi(
  below: number,
  sags: readonly { readonly residual: number; readonly reached: number }[],
  served: number,
): number {
  const reached = sags.filter(({ residual }) => residual < below).map((sag) => sag.reached);
  return reached.reduce((sum, one) => sum + one, 0) / served;
}

/** How many lost their supply, and for how long. Who is served may be customers, sites or units, as the reader counts. */
export interface ServiceInterruption {
  readonly reached: number;
  readonly minutes: number;
}

export interface Reliability {
  /** sustained interruptions each one served had */
  readonly saifi: number;
  /** minutes without supply each one served had */
  readonly saidi: number;
  /** minutes a sustained interruption lasted; null where there was none */
  readonly caidi: number | null;
  /** momentary interruptions each one served had */
  readonly maifi: number;
}

/** At most so many minutes is momentary [IEEE 1366]. */
const MOMENTARY_MINUTES = 5;

export function reliability(interruptions: readonly ServiceInterruption[], served: number): Reliability {
  const sustained = interruptions.filter(({ minutes }) => minutes > MOMENTARY_MINUTES);
  const momentary = interruptions.filter(({ minutes }) => minutes <= MOMENTARY_MINUTES);
  const saifi = sumOf(sustained, ({ reached }) => reached) / served;
  const saidi = sumOf(sustained, ({ reached, minutes }) => reached * minutes) / served;
  return {
    saifi,
    saidi,
    caidi: saifi === 0 ? null : saidi / saifi,
    maifi: sumOf(momentary, ({ reached }) => reached) / served,
  };
}

const sumOf = (
  interruptions: readonly ServiceInterruption[],
  of: (one: ServiceInterruption) => number,
): number => interruptions.reduce((sum, one) => sum + of(one), 0);

export interface ServedSite {
  readonly site: string;
  readonly served: number;
  readonly interruptions: readonly ServiceInterruption[];
}

/** The same for each site by itself, and for the fleet: every site's interruptions over everyone served. */
export function fleetReliability(sites: readonly ServedSite[]): {
  readonly bySite: Readonly<Record<string, Reliability>>;
  readonly fleet: Reliability;
} {
  const bySite = sites.map(
    ({ site, served, interruptions }) => [site, reliability(interruptions, served)] as const,
  );
  const served = sites.reduce((sum, one) => sum + one.served, 0);
  return {
    bySite: Object.fromEntries(bySite),
    fleet: reliability(
      sites.flatMap(({ interruptions }) => interruptions),
      served,
    ),
  };
}
