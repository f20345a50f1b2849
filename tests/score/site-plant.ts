import { seconds, SECOND, type Instant } from '../../shared/base/instant.ts';
import { REFERENCE_SETTINGS } from '../../shared/control/settings.ts';
import type { Dice } from './dice.ts';
import type { Stretch } from './trace.ts';
import { HEALTHY_VOLTS, UnitPlant } from './unit-plant.ts';

/**
 * Several units on one panel, for labelled histories: each goes its own way under its thermostat, and the supply, its own
 * breaker, its switches and a common demand come over it. Composed beforehand, so that a unit needs only be driven along.
 */
export interface SitePlant {
  readonly units: readonly { readonly id: string; readonly offDelay: number; readonly plant: UnitPlant }[];
  /** when the panel had no power */
  readonly outages: readonly Stretch[];
  readonly happened: readonly string[];
}

interface Script {
  readonly called: Stretch[];
  /** no call, whatever the thermostat wants */
  readonly kept: Stretch[];
  readonly powerless: Stretch[];
  readonly tripped: Stretch[];
}

/** Off-cycle delays of neighbours: as the trade sets them, all alike, or too near (handbook 2.1, worked). */
const DELAYS: readonly (readonly number[])[] = [
  [180, 210, 240, 270],
  [180, 210, 240, 270],
  [210, 210, 210, 210],
  [200, 210, 220, 230],
];

export function liveSite(count: number, from: Instant, to: Instant, chance: Dice): SitePlant {
  const delays = chance.pick(DELAYS);
  const scripts = Array.from({ length: count }, () => ordinaryCalls(from, to, chance));
  const outages: Stretch[] = [];
  const happened: string[] = [];
  const after = (t: Instant, duration: number): Instant => t + seconds(duration);
  let t = after(from, 2_000);
  while (t < to - 4_000 * SECOND) {
    const name = chance.pick(Object.keys(SITE_HAPPENINGS));
    happened.push(`${Math.round((t - from) / SECOND)}: ${name}`);
    t = after(SITE_HAPPENINGS[name]!({ t, scripts, outages, chance }), chance.between(1_500, 4_000));
  }
  const units = scripts.map((script, i) => {
    const plant = new UnitPlant({ ...REFERENCE_SETTINGS, offDelay: delays[i]! }, from, 'energised');
    plant.setTo({}, chance.between(-0.01, 0.01));
    drive(plant, { ...script, powerless: [...script.powerless, ...outages] }, to);
    return { id: `unit-${i + 1}`, offDelay: delays[i]!, plant };
  });
  return { units, outages, happened };
}

function ordinaryCalls(from: Instant, to: Instant, chance: Dice): Script {
  const called: Stretch[] = [];
  let t = from + seconds(chance.between(100, 1_500));
  while (t < to) {
    const end = t + seconds(chance.between(300, 1_200));
    called.push({ from: t, to: end });
    t = end + seconds(chance.between(400, 1_500));
  }
  return { called, kept: [], powerless: [], tripped: [] };
}

interface Scene {
  readonly t: Instant;
  readonly scripts: readonly Script[];
  readonly outages: Stretch[];
  readonly chance: Dice;
}

/** What may befall a panel and its rooms; each answers when it is over. */
const SITE_HAPPENINGS: Readonly<Record<string, (scene: Scene) => Instant>> = {
  'an outage': ({ t, outages, scripts, chance }) => {
    const end = t + seconds(chance.spread(2, 900));
    outages.push({ from: t, to: end });
    // heat gathers: most are called when it ends
    for (const { called } of scripts)
      if (chance.chance(0.8))
        called.push({ from: t - 400 * SECOND, to: end + seconds(chance.between(300, 1_500)) });
    return end + 600 * SECOND;
  },
  'a reclosing sequence': ({ t, outages, scripts, chance }) => {
    let at = t;
    for (const gap of [0.5, 15, 45]) {
      const end = at + seconds(chance.between(0.3, 3));
      outages.push({ from: at, to: end });
      at = end + seconds(gap * chance.between(0.7, 1.3));
    }
    for (const { called } of scripts) called.push({ from: t - 400 * SECOND, to: at + 900 * SECOND });
    return at + 900 * SECOND;
  },
  'a breaker of one unit': ({ t, scripts, chance }) => {
    const end = t + seconds(chance.spread(20, 1_500));
    const { powerless, called } = chance.pick(scripts);
    powerless.push({ from: t, to: end });
    if (chance.chance(0.7)) called.push({ from: t - 300 * SECOND, to: end + 600 * SECOND });
    return end + 600 * SECOND;
  },
  'one locks out': ({ t, scripts, chance }) => lockOut(t, chance.pick(scripts), chance),
  'two lock out': ({ t, scripts, chance }) => {
    const [first, second] = [scripts[0]!, scripts[1]!];
    return Math.max(lockOut(t, first, chance), lockOut(t + seconds(chance.between(5, 900)), second, chance));
  },
  'two are called at once': ({ t, scripts, chance }) => {
    const apart = chance.pick([0, 0.3, 1, 1.7, 2.5, 4]);
    scripts.slice(0, 2).forEach(({ called, kept }, i) => {
      const at = t + seconds(600 + i * apart);
      kept.push({ from: t, to: at });
      called.push({ from: at, to: at + seconds(chance.between(300, 900)) });
    });
    return t + 1_600 * SECOND;
  },
};

/** The high-pressure switch stays open until it has locked out; the thermostat breaks the call long after. */
function lockOut(t: Instant, { called, tripped, kept }: Script, chance: Dice): Instant {
  const open = t + 320 * SECOND;
  const end = open + seconds(chance.between(700, 3_000));
  called.push({ from: t, to: end });
  tripped.push({ from: open, to: end - 60 * SECOND });
  kept.push({ from: end, to: end + 60 * SECOND });
  return end + 400 * SECOND;
}

const within = (all: readonly Stretch[], at: Instant): boolean =>
  all.some(({ from, to }) => from <= at && at < to);

function drive(plant: UnitPlant, { called, kept, powerless, tripped }: Script, to: Instant): void {
  const edges = [...called, ...kept, ...powerless, ...tripped].flatMap((one) => [one.from, one.to]);
  const times = [...new Set(edges)].filter((at) => at > plant.t && at < to).sort((a, b) => a - b);
  for (const at of times) {
    plant.wait((at - plant.t) / SECOND);
    plant.set({
      want: within(called, at) && !within(kept, at),
      volts: within(powerless, at) ? 0 : HEALTHY_VOLTS,
      high: within(tripped, at),
    });
  }
  plant.wait((to - plant.t) / SECOND);
}
