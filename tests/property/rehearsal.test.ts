import fc from 'fast-check';
import { expect, test } from 'vitest';
import { REFERENCE_SETTINGS, type ControlSettings } from '../../shared/control/settings.ts';
import type { ControlInputs } from '../../shared/control/state.ts';
import { readRehearsalLink, rehearsalLink } from '../../shared/replay/rehearsal-link.ts';
import { QUIET_INPUTS, rehearse, type Rehearsal } from '../../shared/replay/rehearsal.ts';

/** A link shows what was shared, exactly; whatever else stands in an address is refused and throws nothing. */
const RUNS = Number(process.env['REHEARSAL_CASES'] ?? 1000);

const volts = fc.integer({ min: 0, max: 4000 }).map((hundredths) => hundredths / 100);
const change: fc.Arbitrary<Partial<ControlInputs>> = fc
  .record(
    {
      call: fc.boolean(),
      highPressureOpen: fc.boolean(),
      lowPressureOpen: fc.boolean(),
      controlVoltage: volts,
    },
    { requiredKeys: [] },
  )
  .filter((one) => Object.keys(one).length > 0);
const settings: fc.Arbitrary<ControlSettings> = fc
  .record(
    {
      offDelay: fc.integer({ min: 30, max: 300 }),
      offDelayFrom: fc.constantFrom('call', 'stop'),
      powerUpBase: fc.integer({ min: 0, max: 600 }),
      powerUpShare: fc.integer({ min: 0, max: 100 }).map((hundredths) => hundredths / 100),
      lowPressureBypass: fc.integer({ min: 0, max: 600 }),
      lowPressureRetry: fc.constantFrom('closed-needed', 'bypass-again'),
      stopsCounted: fc.constantFrom('together', 'by-switch'),
      undervoltageTrip: fc.option(fc.integer({ min: 5, max: 24 })),
      undervoltageStartGrace: fc.integer({ min: 0, max: 60 }),
      undervoltageDelayFrom: fc.constantFrom('drop', 'recovery'),
      holdUp: fc.integer({ min: 0, max: 100 }).map((tenths) => tenths / 10),
    },
    { requiredKeys: [] },
  )
  .map((some) => ({ ...REFERENCE_SETTINGS, ...some }) as ControlSettings);
const rehearsal: fc.Arbitrary<Rehearsal> = fc.record({
  settings,
  opening: change.map((some) => ({ ...QUIET_INPUTS, ...some })),
  steps: fc
    .uniqueArray(fc.record({ at: fc.integer({ min: 0, max: 4_000_000 }), change }), {
      maxLength: 40,
      selector: ({ at }) => at,
    })
    .map((steps) => steps.sort((a, b) => a.at - b.at)),
  until: fc.integer({ min: 0, max: 6_000_000 }),
});

test('a shared link reproduces the rehearsal and its chart exactly', () => {
  fc.assert(
    fc.property(rehearsal, (shared) => {
      const link = rehearsalLink(shared)!;
      expect(encodeURIComponent(link).replaceAll('*', '')).toBe(link.replaceAll('*', ''));
      const read = readRehearsalLink(new URLSearchParams({ r: link }).get('r')!);
      expect(read).toEqual({ ok: true, rehearsal: shared });
      expect(read.ok && rehearse(read.rehearsal)).toEqual(rehearse(shared));
    }),
    { numRuns: RUNS },
  );
});

test('a link that was changed on its way is a rehearsal or a refusal, and never more than its bounds', () => {
  const edit = fc.record({ at: fc.nat(), char: fc.constantFrom(...'019zcv*-_.h+%é') });
  fc.assert(
    fc.property(rehearsal, edit, (shared, { at, char }) => {
      const link = rehearsalLink(shared)!;
      const place = at % link.length;
      const read = readRehearsalLink(link.slice(0, place) + char + link.slice(place + 1));
      if (read.ok) rehearse(read.rehearsal);
      else expect(read.says).not.toBe('');
    }),
    { numRuns: RUNS },
  );
});
