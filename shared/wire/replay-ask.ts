import Type, { type Static } from 'typebox';
import { parseConfiguration, type Fault } from './configuration.ts';
import { IsoInstant } from './schema.ts';
import {
  PanelDocument,
  ProtectionDocument,
  SLUG,
  SpaceDocument,
  type SiteDocument,
} from './site-document.ts';
import type { Site } from '../telemetry/site.ts';

/** What is asked of a replay (contract section 5): a stretch of a site's history, and what is to be otherwise in it. */
const Slug = Type.String({ pattern: SLUG });
const closed = { additionalProperties: false };

export const ReplaySettings = Type.Object(
  {
    units: Type.Optional(
      Type.Array(Type.Object({ id: Slug, protection: ProtectionDocument }, closed), { maxItems: 200 }),
    ),
    panels: Type.Optional(
      Type.Array(
        Type.Object(
          { id: Slug, minimumStartSeparation: PanelDocument.properties.minimumStartSeparation },
          closed,
        ),
        { maxItems: 200 },
      ),
    ),
    spaces: Type.Optional(
      Type.Array(
        Type.Object(
          {
            id: Slug,
            limits: SpaceDocument.properties.limits,
            unitsNeeded: SpaceDocument.properties.unitsNeeded,
          },
          closed,
        ),
        { maxItems: 200 },
      ),
    ),
  },
  { ...closed, description: 'parts of a site’s document: what is given takes the place of what is recorded' },
);
export type ReplaySettings = Static<typeof ReplaySettings>;

export const ReplayAsk = Type.Object(
  {
    site: Slug,
    from: IsoInstant,
    to: IsoInstant,
    units: Type.Optional(
      Type.Array(Slug, {
        minItems: 1,
        maxItems: 50,
        description: 'units to run through the control; left out: those with other settings, else all',
      }),
    ),
    settings: Type.Optional(ReplaySettings),
    timerError: Type.Optional(
      Type.Number({
        minimum: 0,
        maximum: 0.2,
        description: 'share by which a timer may be off; 0: kept exactly',
      }),
    ),
  },
  closed,
);
export type ReplayAsk = Static<typeof ReplayAsk>;

export type OtherSite =
  { readonly ok: true; readonly site: Site } | { readonly ok: false; readonly faults: readonly Fault[] };

type Part = { readonly id: string } & Readonly<Record<string, unknown>>;

/** A version of a site with other settings, checked as any document is; pointers of faults are those of `settings`. */
export function withSettings(id: string, document: SiteDocument, settings: ReplaySettings): OtherSite {
  const faults: Fault[] = [];
  const lists = (['units', 'panels', 'spaces'] as const).map((list) => {
    const parts = (document[list] ?? []) as readonly Part[];
    const asked = (settings[list] ?? []) as readonly Part[];
    for (const [i, { id: name }] of asked.entries()) {
      if (!parts.some((part) => part.id === name)) faults.push(absent(list, i, name));
      if (asked.findIndex((other) => other.id === name) < i) faults.push(twice(list, i, name));
    }
    return [
      list,
      parts.map((part) =>
        laidOver(
          part,
          asked.find((one) => one.id === part.id),
        ),
      ),
    ] as const;
  });
  if (faults.length > 0) return { ok: false, faults };
  const given = Object.fromEntries(lists.filter(([list]) => document[list] !== undefined));
  const parsed = parseConfiguration(id, { ...document, ...given });
  return parsed.ok ? { ok: true, site: parsed.site } : parsed;
}

const absent = (list: string, place: number, name: string): Fault => ({
  pointer: `/settings/${list}/${place}/id`,
  message: `There is no "${name}" among the site’s ${list} in this stretch: give one that its document has.`,
});
const twice = (list: string, place: number, name: string): Fault => ({
  pointer: `/settings/${list}/${place}/id`,
  message: `"${name}" is there twice: give its settings once.`,
});

/** What is given takes the place of what was there, one level of objects deep (`protection`, `limits`). */
function laidOver(part: Part, asked: Part | undefined): Part {
  if (!asked) return part;
  const merged: Record<string, unknown> = { ...part };
  for (const [name, value] of Object.entries(asked)) {
    const was = part[name];
    const deep = typeof value === 'object' && value !== null && typeof was === 'object' && was !== null;
    merged[name] = deep ? { ...was, ...value } : value;
  }
  return merged as Part;
}
