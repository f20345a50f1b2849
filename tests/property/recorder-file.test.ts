import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { readRecording, type RecorderFile } from '../../shared/recorder/read-recording.ts';
import type { DataFormat, Revision } from '../../shared/recorder/recording.ts';
import { timesOfRates } from '../../shared/recorder/sample-times.ts';
import { writeRecording, type WrittenRecording } from '../fixtures/recorder-file.ts';

/**
 * What is written in any format of IEEE C37.111 is read as it was written; and bytes, however mutilated, never throw: they
 * give a recording or faults with a sentence. `RECORDER_CASES` makes more of both (default 300).
 */
const CASES = Number(process.env['RECORDER_CASES'] ?? 300);

const STORED: Readonly<Record<DataFormat, fc.Arbitrary<number>>> = {
  ASCII: fc.integer({ min: -99998, max: 99998 }),
  BINARY: fc.integer({ min: -32767, max: 32767 }),
  BINARY32: fc.integer({ min: -2147483647, max: 2147483647 }),
  FLOAT32: fc.float({ noNaN: true, noDefaultInfinity: true }),
};

const written = fc
  .record({
    revision: fc.constantFrom<Revision>(1991, 1999, 2013),
    format: fc.constantFrom<DataFormat>('ASCII', 'BINARY', 'BINARY32', 'FLOAT32'),
    samples: fc.integer({ min: 1, max: 40 }),
    analog: fc.integer({ min: 1, max: 5 }),
    digital: fc.integer({ min: 0, max: 35 }),
    rates: fc.integer({ min: 0, max: 3 }),
    newline: fc.constantFrom('\r\n', '\n'),
    combined: fc.boolean(),
    blankLines: fc.boolean(),
    multiplier: fc.constantFrom(1, 0.5, 1000),
  })
  .chain(({ revision, format, samples, analog, digital, rates, ...how }) =>
    fc.record({
      revision: fc.constant(revision),
      format: fc.constant(format),
      samples: fc.constant(samples),
      frequency: fc.constantFrom(50, 60),
      analog: fc.array(
        fc.record({
          name: fc.constantFrom('U1', 'Voltage A', 'Ib', 'Spannung'),
          multiplier: fc.constantFrom(1, 0.1, -0.0197614394128323, 2.836798e3),
          offset: fc.constantFrom(0, 25.3736882060767, -1.021247e2),
          stored: fc.array(fc.option(STORED[format], { freq: 10 }), {
            minLength: samples,
            maxLength: samples,
          }),
          primary: fc.constantFrom(1, 190740),
          secondary: fc.constantFrom(1, 57.8),
          side: fc.constantFrom<'P' | 'S'>('P', 'S'),
        }),
        { minLength: analog, maxLength: analog },
      ),
      digital: fc.array(
        fc.record({
          name: fc.constant('Contact'),
          states: fc.array(fc.constantFrom<0 | 1>(0, 1), { minLength: samples, maxLength: samples }),
        }),
        { minLength: digital, maxLength: digital },
      ),
      rates: fc.constant(
        rates === 0
          ? null
          : Array.from({ length: rates }, (_, i) => ({
              perSecond: 1200 / (i + 1),
              last: Math.ceil((samples * (i + 1)) / rates) + i,
            })),
      ),
      stamps: fc.constant(Array.from({ length: samples }, (_, i) => 833 * i)),
      start: fc.constant(revision === 1991 ? '05/17/98,05:33:03.765333' : '17/05/2015,05:33:03.765333'),
      trigger: fc.constant(revision === 1991 ? '05/17/98,05:33:03.790289' : '17/05/2015,05:33:03.790289'),
      newline: fc.constant(how.newline),
      // the older revisions have neither the one file for all nor a multiplier
      combined: fc.constant(how.combined && revision === 2013),
      multiplier: fc.constant(revision === 1991 ? 1 : how.multiplier),
      // a blank line within binary data is data
      blankLines: fc.constant(how.blankLines && format === 'ASCII'),
    }),
  );

describe('recorder files', () => {
  it('are read as they were written, in every format and revision', () => {
    fc.assert(
      fc.property(written, (what) => {
        const outcome = readRecording(writeRecording(what));
        if (outcome.kind === 'refused') throw new Error(JSON.stringify(outcome.faults));
        const { recording } = outcome;
        expect(recording.revision).toBe(what.revision);
        expect(recording.format).toBe(what.format);
        expect(recording.frequency).toBe(what.frequency);
        expect(recording.start?.micros).toBe(
          Date.UTC(what.revision === 1991 ? 1998 : 2015, 4, 17, 5, 33, 3) * 1000 + 765333,
        );
        expect([...recording.times]).toEqual(timesOf(what));
        expect(recording.analog.map(({ values }) => [...values])).toEqual(
          what.analog.map(({ stored, multiplier, offset }) =>
            stored.map((value) => (value === null ? NaN : multiplier * value + offset)),
          ),
        );
        expect(recording.digital.map(({ first, changes }) => ({ first, changes }))).toEqual(
          what.digital.map(({ states }) => ({
            first: states[0],
            changes: states.flatMap((state, i) => (i > 0 && state !== states[i - 1] ? [i] : [])),
          })),
        );
      }),
      { numRuns: CASES },
    );
  });

  it('mutilated in any way give a recording or faults that say what is wrong, and never throw', () => {
    fc.assert(
      fc.property(written, mutilations, (what, harms) => {
        const outcome = readRecording(writeRecording(what).map((file) => harmed(file, harms)));
        for (const { code, says } of outcome.faults) {
          expect(code).toMatch(/^[a-z-]+$/);
          expect(says).toMatch(/^[A-Z0-9].{20,}/s);
        }
        if (outcome.kind === 'refused') expect(outcome.faults.length).toBeGreaterThan(0);
        else
          expect([...outcome.recording.times].every((t, i, all) => i === 0 || t >= all[i - 1]!)).toBe(true);
      }),
      { numRuns: 3 * CASES },
    );
  });

  it('that are no such files at all are refused', () => {
    const any = fc.array(
      fc.record({
        name: fc.constantFrom('a.cfg', 'a.dat', 'a.cff', 'a.hdr', ''),
        bytes: fc.uint8Array({ maxLength: 400 }),
      }),
      { maxLength: 3 },
    );
    fc.assert(
      fc.property(any, (files) => {
        const outcome = readRecording(files);
        expect(outcome.kind).toBe('refused');
        expect(outcome.faults.length).toBeGreaterThan(0);
      }),
      { numRuns: CASES },
    );
  });
});

function timesOf({ rates, samples, stamps, multiplier }: WrittenRecording): number[] {
  if (rates !== null) return [...timesOfRates(samples, rates)];
  return stamps.map((stamp) => (stamp! - stamps[0]!) * (multiplier * 1e-6));
}

type Harm =
  | { readonly kind: 'cut'; readonly share: number }
  | { readonly kind: 'write'; readonly share: number; readonly bytes: Uint8Array }
  | { readonly kind: 'drop'; readonly share: number; readonly count: number }
  | { readonly kind: 'line'; readonly share: number; readonly text: string };

const share = fc.double({ min: 0, max: 1, noNaN: true });
const mutilations = fc.array(
  fc.oneof(
    fc.record({ kind: fc.constant('cut' as const), share }),
    fc.record({ kind: fc.constant('write' as const), share, bytes: fc.uint8Array({ maxLength: 6 }) }),
    fc.record({ kind: fc.constant('drop' as const), share, count: fc.integer({ min: 1, max: 9 }) }),
    fc.record({
      kind: fc.constant('line' as const),
      share,
      text: fc.constantFrom('\n', ',', '\n-1e999,\n', '99/99/9999,99:99:99\n', '\u001a', '1e308', 'x'),
    }),
  ),
  { minLength: 1, maxLength: 6 },
);

const harmed = ({ name, bytes }: RecorderFile, harms: readonly Harm[]): RecorderFile => ({
  name,
  bytes: harms.reduce(harm, bytes),
});

function harm(bytes: Uint8Array, by: Harm): Uint8Array {
  const at = Math.floor(by.share * bytes.length);
  if (by.kind === 'cut') return bytes.slice(0, at);
  const [before, after] = [bytes.slice(0, at), bytes.slice(at)];
  if (by.kind === 'drop') return Uint8Array.from([...before, ...after.slice(by.count)]);
  const text = by.kind === 'line' ? Uint8Array.from(by.text, (letter) => letter.charCodeAt(0)) : by.bytes;
  return Uint8Array.from([...before, ...text, ...after.slice(by.kind === 'write' ? text.length : 0)]);
}
