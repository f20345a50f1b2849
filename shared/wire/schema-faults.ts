import type { TSchema } from 'typebox';
import { Settings } from 'typebox/system';
import { Errors } from 'typebox/value';

/** One thing wrong with a document: where (JSON Pointer, RFC 6901) and what to do about it, as a sentence. */
export interface Fault {
  readonly pointer: string;
  readonly message: string;
}

type SchemaError = ReturnType<typeof Errors>[number];

/** Most faults that one document is told of; the rest show when these are mended. */
const MOST_FAULTS = 500;

/** Faults of a value against its schema, one for each place, in document order. */
export function schemaFaults(schema: TSchema, value: unknown): Fault[] {
  Settings.Set({ maxErrors: MOST_FAULTS });
  const faults = new Map<string, Fault>();
  for (const error of Errors(schema, value)) {
    for (const fault of faultsOf(error)) if (!faults.has(fault.pointer)) faults.set(fault.pointer, fault);
  }
  return [...faults.values()];
}

function faultsOf(error: SchemaError): Fault[] {
  const at = error.instancePath;
  switch (error.keyword) {
    case 'boolean':
      return [{ pointer: at, message: 'This field isn’t known here: check its spelling or remove it.' }];
    case 'additionalProperties':
      return error.params.additionalProperties.map((name) => ({
        pointer: `${at}/${escapePointer(name)}`,
        message: `The field "${name}" isn’t known here: check its spelling or remove it.`,
      }));
    case 'required':
      return error.params.requiredProperties.map((name) => ({
        pointer: `${at}/${escapePointer(name)}`,
        message: `"${name}" must be given.`,
      }));
    default:
      return [{ pointer: at, message: sentence(error) }];
  }
}

function sentence(error: SchemaError): string {
  switch (error.keyword) {
    case 'type':
      return `Give ${words(error.params.type)} here.`;
    case 'enum':
      return `Give one of ${error.params.allowedValues.map((value) => JSON.stringify(value)).join(', ')}.`;
    case 'minimum':
      return `Give ${error.params.limit} or more.`;
    case 'maximum':
      return `Give ${error.params.limit} or less.`;
    case 'maxLength':
      return `Give at most ${error.params.limit} characters.`;
    case 'minLength':
      return `Give at least ${error.params.limit} character.`;
    case 'maxItems':
      return `List at most ${error.params.limit} entries.`;
    case 'minItems':
      return `List at least ${error.params.limit} entries.`;
    case 'pattern':
      return patternSentence(
        error.params.pattern instanceof RegExp ? error.params.pattern.source : error.params.pattern,
      );
    default:
      return `This ${error.message}.`;
  }
}

const KIND: Record<string, string> = {
  object: 'an object',
  array: 'a list',
  string: 'a text',
  number: 'a number',
  integer: 'a whole number',
  boolean: 'true or false',
  null: 'null',
};
const words = (type: string | string[]): string =>
  (Array.isArray(type) ? type : [type]).map((name) => KIND[name] ?? name).join(' or ');

/** What a text must look like, by how its pattern begins. */
function patternSentence(pattern: string): string {
  if (pattern.startsWith('^[a-z0-9]'))
    return 'Use lower-case letters, digits and hyphens only, beginning with a letter or digit, at most 63 characters.';
  if (pattern.startsWith('^([01]')) return 'Give a time of day as "07:30"; "24:00" is the end of the day.';
  if (pattern.startsWith('^(mon')) return 'Give days as "mon-fri", "sat" or "mon,wed,fri".';
  if (pattern.startsWith('^(/'))
    return 'Give a JSON Pointer, as "/inputs/3/state"; in a name "~" is written "~0" and "/" is written "~1".';
  if (pattern.startsWith('^[^/'))
    return 'Give "group/edge node/device/metric name"; an edge node’s own metric has no device: "group/edge node//metric name".';
  if (pattern.startsWith('^[^')) return 'Use one line, without control characters.';
  return 'This text doesn’t have the form that is needed here.';
}

const escapePointer = (name: string): string => name.replaceAll('~', '~0').replaceAll('/', '~1');
