/**
 * One file for all (2013, ".cff"): sections that begin with a line `--- file type: CFG ---`, `INF`, `HDR`, and last
 * `--- file type: DAT ASCII ---` or `--- file type: DAT BINARY: <bytes> ---` [IEEE C37.111-2013, single-file format].
 */
export interface CombinedFile {
  readonly configuration: Uint8Array | null;
  readonly data: Uint8Array | null;
  /** `ASCII`, `BINARY`, …; null: not said */
  readonly dataFormat: string | null;
  /** how many bytes of data are announced; null: not said */
  readonly dataBytes: number | null;
}

interface Section {
  readonly kind: string;
  readonly format: string | null;
  readonly bytes: number | null;
  readonly from: number;
  readonly opens: number;
}

const OPENS = /^---\s*file type:\s*([a-z]{3})(?:\s+([a-z0-9]+))?\s*(?::\s*(\d+))?\s*---$/i;
const DASH = 0x2d;
const MOST_LINE = 100;

/** null: it isn't such a file. */
export function splitCombined(bytes: Uint8Array): CombinedFile | null {
  const sections = sectionsOf(bytes);
  if (sections.length === 0) return null;
  const cut = (kind: string): Uint8Array | null => {
    const at = sections.findIndex((section) => section.kind === kind);
    if (at < 0) return null;
    return bytes.subarray(sections[at]!.from, sections[at + 1]?.opens ?? bytes.length);
  };
  const data = sections.find(({ kind }) => kind === 'DAT');
  const whole = cut('DAT');
  const announced = data?.bytes ?? null;
  return {
    configuration: cut('CFG'),
    data: whole && announced !== null ? whole.subarray(0, announced) : whole,
    dataFormat: data?.format ?? null,
    dataBytes: announced,
  };
}

/** Data may hold anything, a line of dashes too: nothing is looked for in them when they are binary. */
function sectionsOf(bytes: Uint8Array): Section[] {
  const found: Section[] = [];
  for (let at = 0; at < bytes.length; at = afterLine(bytes, at)) {
    const section = bytes[at] === DASH ? sectionAt(bytes, at) : null;
    if (section === null) continue;
    found.push(section);
    if (section.kind === 'DAT' && section.format !== 'ASCII') break;
  }
  return found;
}

function sectionAt(bytes: Uint8Array, at: number): Section | null {
  const end = lineEnd(bytes, at);
  if (end - at > MOST_LINE) return null;
  const line = String.fromCharCode(...bytes.subarray(at, end)).trim();
  const parts = OPENS.exec(line);
  if (!parts) return null;
  return {
    kind: parts[1]!.toUpperCase(),
    format: parts[2]?.toUpperCase() ?? null,
    bytes: parts[3] === undefined ? null : Number(parts[3]),
    from: afterLine(bytes, at),
    opens: at,
  };
}

const [LF, CR] = [10, 13];

function lineEnd(bytes: Uint8Array, at: number): number {
  let end = at;
  while (end < bytes.length && bytes[end] !== LF && bytes[end] !== CR) end++;
  return end;
}

function afterLine(bytes: Uint8Array, at: number): number {
  const end = lineEnd(bytes, at);
  return bytes[end] === CR && bytes[end + 1] === LF ? end + 2 : end + 1;
}
