import type { Unit } from '../../telemetry/site.ts';
import { clockDoubt, coarseness, wireOf } from '../members/wired.ts';
import type { Eye, Eyes } from './eyes.ts';
import { certain, notAtAll, possible, probable, type Knowable, type Verdict } from './knowable.ts';

/** What can be known of this unit's starts beside those of its panel's other units, and of the panel's supply (handbook 5). */
export function ofPanel(eyes: Eyes): Knowable[] {
  const together = startsTogether(eyes);
  const after: Verdict = eyes.power || eyes.line || eyes.utilityFailed ? together : notAtAll(NO_SUPPLY);
  const restart = restarts(eyes);
  const { line, generator } = eyes;
  const noMeter = notAtAll('the line voltage of its panel isn’t measured');
  return [
    sided(eyes, row('simultaneous-start', 'after-power-return', after)),
    sided(eyes, row('simultaneous-start', 'in-service', together)),
    row('restart-sequence', null, restart),
    row('voltage-sag', null, line ? certain(meterSays(line)) : noMeter),
    row('voltage-swell', null, line ? certain(meterSays(line)) : noMeter),
    row('interruption', null, interruptions(eyes, restart)),
    row(
      'generator-supply',
      null,
      generator ? certain('its contact is wired') : notAtAll('no contact shows that a generator runs'),
    ),
  ];
}

/** Without a meter: the utility's contact, or control power that all wired units lose together (handbook 5.1). */
function interruptions({ line, utilityFailed, power, others }: Eyes, restart: Verdict): Verdict {
  if (line) return certain(meterSays(line));
  if (utilityFailed) return probable('only a contact tells; how deep and how long it was isn’t measured');
  const wires = [power?.point ?? null, ...others.map((unit) => wireOf(unit, 'power'))].filter(
    (wire) => wire !== null,
  );
  // between two polls a short one may go unseen by any of them
  if (wires.length > 1 && wires.every(({ reporting }) => reporting.mode === 'on-change'))
    return probable('control power that all units lose together tells; how deep it was isn’t measured');
  return restart.known === 'not-at-all'
    ? notAtAll(NO_SUPPLY)
    : possible('only one unit’s control power tells, or a start as after an outage');
}

/** What the meter's reporting lets one know (handbook 5.1 "Slow meters"). */
function meterSays({ point }: Eye): string {
  const { reporting } = point;
  if (reporting.mode === 'on-change') return 'the line voltage is measured, and told when it changes';
  return (
    `the line voltage is read each ${short(reporting.seconds)} s: what is shorter may go unseen, how low it was is known as ` +
    'at most, how long as at least and at most; its waveforms would tell more'
  );
}

const NO_SUPPLY = 'neither its control voltage nor anything of its panel’s supply is wired';

const row = (kind: Knowable['kind'], cause: Knowable['cause'], { known, because }: Verdict): Knowable => ({
  kind,
  cause,
  about: 'panel',
  known,
  causeKnown: cause === null ? null : known,
  because,
});

/** Whether power had come back before them is known by itself, however far apart they were. */
const sided = ({ power, line, utilityFailed }: Eyes, found: Knowable): Knowable =>
  found.known === 'not-at-all'
    ? found
    : { ...found, causeKnown: power || line || utilityFailed ? 'certain' : 'probable' };

/** How sharply the starts of the panel's other units are seen, s, the clocks' difference included; the best of them. */
function sharpest({ others, site, run }: Eyes): number | null {
  const widths = others.flatMap((unit) => {
    const wire = wireOf(unit, 'run');
    return wire ? [coarseness(wire) + clockDoubt(site, wire, run?.point ?? null)] : [];
  });
  return widths.length === 0 ? null : Math.min(...widths);
}

/** Seconds by which two starts have to lie further apart than the minimum to be told apart; null: no other is seen. */
export function spacingDoubt(eyes: Eyes): number | null {
  const other = sharpest(eyes);
  return other === null || !eyes.run ? null : coarseness(eyes.run.point) + other;
}

/** What two starts that fell into the same look may lie apart at most, s: the spacing that they prove at best. */
function closestProof(eyes: Eyes): number | null {
  const other = sharpest(eyes);
  return other === null || !eyes.run ? null : Math.max(coarseness(eyes.run.point), other);
}

function startsTogether(eyes: Eyes): Verdict {
  const { run, others, panel } = eyes;
  if (!run) return notAtAll('its starts aren’t seen');
  if (others.length === 0) return notAtAll('it is the only unit of its panel');
  const doubt = closestProof(eyes);
  if (doubt === null) return notAtAll('the starts of no other unit of its panel are seen');
  const minimum = panel?.minimumStartSeparationSeconds ?? 0;
  if (doubt < minimum) return certain(`two starts within ${short(doubt)} s are seen to be`);
  return possible(`two starts in one look may lie ${short(doubt)} s apart, and the limit is ${minimum} s`);
}

export const short = (seconds: number): string => String(Math.round(seconds * 100) / 100);

function restarts({ line, utilityFailed, power, others, unit }: Eyes): Verdict {
  if (line) return certain('the line voltage shows when power came back');
  if (utilityFailed) return probable('a contact shows when power came back');
  const all = [unit, ...others];
  const wired = all.filter((one: Unit) => wireOf(one, 'power'));
  if (!power && wired.length === 0) return notAtAll(NO_SUPPLY);
  if (wired.length > 1 && wired.length === all.length)
    return certain('control voltage of every unit of the panel shows when power came back');
  if (wired.length > 1) return probable('only some units of the panel show when power came back');
  return possible('one unit’s control voltage alone can’t tell its own loss from the panel’s');
}
