/** What every part of a page keeps to. Measures are points (1/72 in). */
export type Sheet = PDFKit.PDFDocument;

export const MARGIN = 46;
export const BODY = 9;
export const SMALL = 7.5;
export const INK = '#000';
/** names of faces, and of their files */
export const REGULAR = 'DejaVuSansCondensed';
export const BOLD = 'DejaVuSansCondensed-Bold';
