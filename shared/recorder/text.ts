import type { Faults } from './file-fault.ts';

/**
 * Bytes to text without a host's decoder: UTF-8 where it is valid (ASCII is), UTF-16 where a byte order mark says so, else
 * Windows-1252, which every byte can be read in. The standard asks for ASCII (UTF-8 from 2013 on); recorders write their
 * own code page into channel names. A letter may come out wrong then, never a number.
 */
export function textOf(bytes: Uint8Array, what: string, faults: Faults): string {
  const wide = utf16(bytes);
  if (wide !== null) return wide;
  const utf8 = utf8Text(bytes);
  if (utf8 !== null) return utf8;
  faults.add(
    'code-page',
    `${what} isn’t UTF-8: it was read as Windows-1252, and letters outside ASCII may be wrong.`,
  );
  return pieces(bytes, (byte) => (byte >= 0x80 && byte < 0xa0 ? WINDOWS_1252[byte - 0x80]! : byte));
}

/** Bytes 0x80 to 0x9F of Windows-1252 [Unicode Consortium, mapping CP1252]; where it has none, the byte's own number. */
const WINDOWS_1252 = [
  0x20ac, 0x81, 0x201a, 0x0192, 0x201e, 0x2026, 0x2020, 0x2021, 0x02c6, 0x2030, 0x0160, 0x2039, 0x0152, 0x8d,
  0x017d, 0x8f, 0x90, 0x2018, 0x2019, 0x201c, 0x201d, 0x2022, 0x2013, 0x2014, 0x02dc, 0x2122, 0x0161, 0x203a,
  0x0153, 0x9d, 0x017e, 0x0178,
];

function pieces(codes: ArrayLike<number>, map: (code: number) => number): string {
  const parts: string[] = [];
  for (let at = 0; at < codes.length; at += 4096) {
    const part: number[] = [];
    for (let i = at; i < Math.min(at + 4096, codes.length); i++) part.push(map(codes[i]!));
    parts.push(String.fromCodePoint(...part));
  }
  return parts.join('');
}

function utf16(bytes: Uint8Array): string | null {
  const [first, second] = bytes;
  const little = first === 0xff && second === 0xfe;
  if (!little && !(first === 0xfe && second === 0xff)) return null;
  const codes: number[] = [];
  for (let i = 2; i + 1 < bytes.length; i += 2)
    codes.push(little ? bytes[i]! | (bytes[i + 1]! << 8) : (bytes[i]! << 8) | bytes[i + 1]!);
  return pieces(codes, (code) => code);
}

/** null: not valid UTF-8. A byte order mark is left out. */
function utf8Text(bytes: Uint8Array): string | null {
  if (bytes.every((byte) => byte < 0x80)) return pieces(bytes, (byte) => byte);
  const codes: number[] = [];
  const marked = bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf;
  for (let i = marked ? 3 : 0; i < bytes.length;) {
    const first = bytes[i]!;
    const more = first < 0x80 ? 0 : first >= 0xf0 ? 3 : first >= 0xe0 ? 2 : 1;
    if ((first >= 0x80 && first < 0xc2) || first > 0xf4) return null;
    let code = more === 0 ? first : first & (0x3f >> more);
    for (let k = 1; k <= more; k++) {
      const next = bytes[i + k];
      if (next === undefined || (next & 0xc0) !== 0x80) return null;
      code = (code << 6) | (next & 0x3f);
    }
    if (!isScalar(code, more)) return null;
    codes.push(code);
    i += more + 1;
  }
  return pieces(codes, (code) => code);
}

/** Written in as few bytes as it needs, no half of a pair, within Unicode. */
const isScalar = (code: number, more: number): boolean =>
  code >= [0, 0x80, 0x800, 0x10000][more]! && code <= 0x10ffff && (code < 0xd800 || code > 0xdfff);

/** Lines without their ends; the ASCII end-of-file mark ends the text. */
export const linesOf = (text: string): string[] => text.split('\u001a', 1)[0]!.split(/\r\n|\n|\r/);

/** Fields of one line, without the blanks around them. */
export const fieldsOf = (line: string): string[] => line.split(',').map((field) => field.trim());

/** A decimal number as the standard writes it; null: none. */
export function numberOf(field: string | undefined): number | null {
  if (field === undefined || !/^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(field)) return null;
  const value = Number(field);
  return Number.isFinite(value) ? value : null;
}
