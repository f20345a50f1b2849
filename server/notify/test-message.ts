import type { MessageBody } from '../../db/notices.ts';

/** What a channel is tried with: says that nothing has happened, and where it came from. */
export function testMessage(publicUrl: string | null): MessageBody {
  const where = publicUrl === null ? '' : ` It came from ${publicUrl}`;
  return {
    subject: 'Test: nothing has happened',
    text: `This is a test message: nothing has happened.${where}\n\nIf you can read it, say so on your page of channels.\n`,
    short: `Test from Holdoff: nothing has happened.${where}`.slice(0, 160),
    spoken:
      'Holdoff calls. This is a test. Nothing has happened. Say on your page of channels that it came through.',
    data: { test: true },
  };
}
