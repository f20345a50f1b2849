import fc from 'fast-check';
import { expect, test } from 'vitest';
import { same } from '../../shared/base/same.ts';
import { addEntry, pointerOf, putAt } from '../../shared/edit/change.ts';
import { differences } from '../../shared/edit/differences.ts';
import { isShown, textOf, type Field } from '../../shared/edit/field.ts';
import { emptyEntry, inputsOf, partsOf, placeOfPointer, typedInto } from '../../shared/edit/inputs.ts';
import { mergeEdits } from '../../shared/edit/merge.ts';
import { fieldsOf } from '../../shared/edit/parts.ts';
import { schemaFaults } from '../../shared/wire/schema-faults.ts';
import { SiteDocument } from '../../shared/wire/site-document.ts';
import { allowedBy } from '../fixtures/schema-cases.ts';

/** The site editor loses nothing of any document, and points at what is wrong with one. */
const document = allowedBy(SiteDocument, 2);
/** SITE_EDITOR_CASES=2000 looks at more. */
const RUNS = { numRuns: Number(process.env['SITE_EDITOR_CASES'] ?? 80) };

/** Without what says nothing: empty texts, empty groups and lists. */
function meant(value: unknown): unknown {
  if (Array.isArray(value)) {
    const entries = value.map(
      (one) => meant(one) ?? (typeof one === 'string' ? '' : typeof one === 'object' ? {} : one),
    );
    return entries.length === 0 ? undefined : entries;
  }
  if (typeof value !== 'object' || value === null) return value === '' ? undefined : value;
  const kept = Object.entries(value).flatMap(([key, one]) => {
    const said = meant(one);
    return said === undefined ? [] : [[key, said] as const];
  });
  return kept.length === 0 ? undefined : Object.fromEntries(kept);
}

/** Every value by where it is. */
function leavesOf(value: unknown, path: readonly string[] = []): (readonly string[])[] {
  if (typeof value !== 'object' || value === null) return [path];
  return Object.entries(value).flatMap(([key, one]) => leavesOf(one, [...path, key]));
}

test('every value of any document that the schema allows stands in an input, which gives it back as it was', () => {
  fc.assert(
    fc.property(document, (site) => {
      const inputs = inputsOf(site);
      for (const { field, value, path } of inputs)
        if (!same(value, '') && !same(value, [])) expect(isShown(field, value), pointerOf(path)).toBe(true);
      const shown = inputs.map(({ path }) => `${pointerOf(path)}/`);
      for (const leaf of leavesOf(meant(site) ?? {}))
        expect(
          shown.some((start) => `${pointerOf(leaf)}/`.startsWith(start)),
          pointerOf(leaf),
        ).toBe(true);
    }),
    RUNS,
  );
});

test('typed into an empty form, input by input, it is the same document again', () => {
  fc.assert(
    fc.property(document, (site) => {
      let typed: unknown = {};
      for (const { path, name } of partsOf(site).slice(1))
        typed = addEntry(typed, path.slice(0, -1), emptyEntry(name));
      for (const { path, field, value } of inputsOf(site))
        typed = typedInto(typed, path, field, textOf(field, value));
      expect(meant(typed)).toEqual(meant(site));
    }),
    RUNS,
  );
});

test('what is touched without being changed leaves the document as it was, and a changed input changes itself alone', () => {
  fc.assert(
    fc.property(document, fc.nat(), (site, pick) => {
      const inputs = inputsOf(site).filter(({ value }) => !same(value, '') && !same(value, []));
      if (inputs.length === 0) return;
      const { path, field, value } = inputs[pick % inputs.length]!;
      const again = typedInto(site, path, field, textOf(field, value));
      expect(again).toEqual(site);
      expect(differences(site, again)).toEqual([]);
      const other = putAt(site, path, `${textOf(field, value)}~`);
      const told = differences(site, other).filter(({ kind }) => kind === 'changed');
      // what names an entry makes another of it
      if (!['id', 'signal'].includes(field.path[0] ?? '')) {
        expect(told.map(({ pointer }) => pointer)).toEqual([pointerOf(path)]);
        expect(told[0]!.says.startsWith(`${field.label}: `)).toBe(true);
      }
      expect(putAt(other, path, value)).toEqual(site);
    }),
    RUNS,
  );
});

/** Something that no such input may hold. */
const WRONG: Readonly<Record<Field['kind'], unknown>> = {
  line: 7,
  lines: 7,
  number: 'many',
  choice: 'whatever',
  ids: ['No Id'],
};

test('a document that is refused points at the input that is wrong', () => {
  fc.assert(
    fc.property(document, fc.nat(), fc.nat(), (site, pickPart, pickField) => {
      const parts = partsOf(site);
      const part = parts[pickPart % parts.length]!;
      const fields = fieldsOf(part.part);
      const field = fields[pickField % fields.length]!;
      const path = [...part.path, ...field.path];
      const planted = putAt(site, path, WRONG[field.kind]);
      const faults = schemaFaults(SiteDocument, planted).map(({ pointer }) => placeOfPointer(pointer));
      expect(faults.length).toBeGreaterThan(0);
      const here = faults.filter((place) => place.field === field && same(place.part.path, part.path));
      expect(here.length, pointerOf(path)).toBeGreaterThan(0);
      // the rest of its group, where it had none, is all that may be missing besides
      for (const place of faults)
        expect([place.part.path, place.field?.path[0]]).toEqual([part.path, field.path[0]]);
    }),
    RUNS,
  );
});

test('a field that must be given and isn’t is pointed at, and one that isn’t known at its part', () => {
  fc.assert(
    fc.property(document, fc.nat(), (site, pick) => {
      const parts = partsOf(site).filter(({ name }) => name !== 'photo' && name !== 'contact');
      const part = parts[pick % parts.length]!;
      const stray = putAt(site, [...part.path, 'colour'], 'green');
      const [place] = schemaFaults(SiteDocument, stray).map(({ pointer }) => placeOfPointer(pointer));
      expect([place!.part.path, place!.field]).toEqual([part.path, null]);
      const needed = fieldsOf(part.part).find(({ path }) =>
        ['id', 'signal', 'timeZone', 'days'].includes(path[0] ?? ''),
      );
      if (!needed) return;
      const faults = schemaFaults(SiteDocument, putAt(site, [...part.path, ...needed.path], undefined) ?? {});
      expect(
        faults
          .map(({ pointer }) => placeOfPointer(pointer))
          .some((at) => at.field === needed && same(at.part.path, part.path)),
      ).toBe(true);
    }),
    RUNS,
  );
});

test('one’s own changes on top of nobody’s are one’s own; on top of one’s own, none', () => {
  fc.assert(
    fc.property(document, document, (base, other) => {
      expect(mergeEdits(base, other, base)).toEqual({ document: other, clashes: [] });
      expect(mergeEdits(base, base, other)).toEqual({ document: other, clashes: [] });
      expect(mergeEdits(base, other, other)).toEqual({ document: other, clashes: [] });
    }),
    RUNS,
  );
});
