import type { FastifyReply } from 'fastify';
import type { Readable } from 'node:stream';
import Type from 'typebox';
import type { PrintedDocument } from '../print/blocks.ts';
import { printPdf } from '../print/print-pdf.ts';

/** Answers that are files: paper to look at, tables to take along. */
export const Pdf = Type.Unsafe<Buffer>({ type: 'string', format: 'binary', description: 'PDF' });
export const AsItCame = Type.Unsafe<Buffer>({
  type: 'string',
  format: 'binary',
  description: 'the bytes as they came',
});
export const Csv = Type.String({ description: 'CSV (RFC 4180)' });

/** A file as it came, to be saved and never shown; its name in both forms of RFC 6266. */
export const sendAsItCame = (reply: FastifyReply, name: string, content: Buffer): FastifyReply =>
  reply
    .type('application/octet-stream')
    .header(
      'content-disposition',
      `attachment; filename="${name.replace(/[^\w. -]/g, '_')}"; filename*=UTF-8''${encodeURIComponent(name)}`,
    )
    .send(content);

/** `name` without its ending. */
export const sendCsv = (reply: FastifyReply, name: string, text: string): FastifyReply =>
  sendFile(reply, `${name}.csv`, 'text/csv; charset=utf-8', text);

/** A table to be saved, as text or as it is made. */
export const sendFile = (
  reply: FastifyReply,
  name: string,
  type: string,
  content: string | Readable,
): FastifyReply =>
  reply.type(type).header('content-disposition', `attachment; filename="${name}"`).send(content);

export async function sendPdf(
  reply: FastifyReply,
  name: string,
  printed: PrintedDocument,
): Promise<FastifyReply> {
  const file = await printPdf(printed);
  return reply
    .type('application/pdf')
    .header('content-disposition', `inline; filename="${name}.pdf"`)
    .send(file);
}
