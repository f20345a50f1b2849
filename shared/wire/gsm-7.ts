/**
 * The alphabet of short messages (3GPP TS 23.038, GSM 7 bit default alphabet and its extension table): a letter of the
 * extension takes two places. What isn't in it is written with what comes nearest, so that 160 places are enough and no
 * network falls back to 70.
 */
const BASIC = new Set(
  '@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !"#¤%&\'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà',
);
const EXTENSION = new Set('^{}\\[~]|€\f');

const NEAREST: Readonly<Record<string, string>> = {
  '’': "'",
  '‘': "'",
  '“': '"',
  '”': '"',
  '–': '-',
  '—': '-',
  '−': '-',
  '·': '-',
  '…': '...',
  '°': '',
  '×': 'x',
  '\u00a0': ' ',
  '\t': ' ',
  '`': "'",
};

/** How many places a text takes, or null where a letter isn't in the alphabet. */
export function gsmLength(text: string): number | null {
  let length = 0;
  for (const letter of text) {
    if (BASIC.has(letter)) length += 1;
    else if (EXTENSION.has(letter)) length += 2;
    else return null;
  }
  return length;
}

/** Written with that alphabet alone: accents that it lacks are dropped, other letters become a question mark. */
export function inGsm(text: string): string {
  return [...text.normalize('NFC')].map(nearest).join('');
}

function nearest(letter: string): string {
  if (BASIC.has(letter) || EXTENSION.has(letter)) return letter;
  const known = NEAREST[letter];
  if (known !== undefined) return known;
  const bare = letter.normalize('NFD').replace(/\p{M}/gu, '');
  return bare !== letter && [...bare].every((part) => BASIC.has(part)) ? bare : '?';
}

/** As much as fits into so many places, with a full stop where something was left out. */
export function cutTo(text: string, places: number): string {
  if (gsmLength(text)! <= places) return text;
  let [kept, length] = ['', 0];
  for (const letter of text) {
    length += gsmLength(letter)!;
    if (length > places - 1) break;
    kept += letter;
  }
  return `${kept.trimEnd()}.`;
}
