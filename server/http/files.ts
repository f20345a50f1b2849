import type { FastifyReply } from 'fastify';
import Type from 'typebox';
import type { PrintedDocument } from '../print/blocks.ts';
import { printPdf } from '../print/print-pdf.ts';

/** Answers that are files: paper to look at, tables to take along. */
export const Pdf = Type.Unsafe<Buffer>({ type: 'string', format: 'binary', description: 'PDF' });
export const Csv = Type.String({ description: 'CSV (RFC 4180)' });

/** `name` without its ending. */
export const sendCsv = (reply: FastifyReply, name: string, text: string): FastifyReply =>
  reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(text);

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
