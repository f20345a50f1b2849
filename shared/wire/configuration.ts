import type { Site } from '../telemetry/site.ts';
import { checkReferences } from './check-references.ts';
import { resolveSite } from './resolve-site.ts';
import { schemaFaults, type Fault } from './schema-faults.ts';
import { SiteDocument, SLUG } from './site-document.ts';

export { SiteDocument };
export type { Fault };

export type ParsedConfiguration =
  | { readonly ok: true; readonly site: Site; readonly document: SiteDocument }
  | { readonly ok: false; readonly faults: readonly Fault[] };

/**
 * A site's document, checked whole and resolved: every default filled in, or every fault named with its JSON Pointer
 * (contract section 3). References are looked at only once the document fits its schema.
 */
export function parseConfiguration(id: string, document: unknown): ParsedConfiguration {
  const faults = [...idFaults(id), ...schemaFaults(SiteDocument, document)];
  if (faults.length > 0) return { ok: false, faults };
  const known = document as SiteDocument;
  const references = checkReferences(known);
  if (references.length > 0) return { ok: false, faults: references };
  return { ok: true, site: resolveSite(id, known), document: known };
}

function idFaults(id: string): Fault[] {
  if (new RegExp(SLUG).test(id)) return [];
  const message = `"${id}" can’t be a site’s id: use lower-case letters, digits and hyphens, at most 63 characters.`;
  return [{ pointer: '', message }];
}
