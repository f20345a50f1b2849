import type { Instant } from '../../shared/base/instant.ts';
import { clockText, dateText, wallOf } from '../../shared/people/wall-time.ts';
import { lengthOf } from '../../shared/proof/lengths.ts';
import type { ProofItemAnswer, ProofRecordAnswer } from '../../shared/wire/proof-answer.ts';
import { GRADE_WORDS } from '../../shared/wire/proof-wire.ts';
import { readInstant } from '../../shared/wire/standing-wire.ts';
import { paperOf, type Block, type PrintedDocument } from '../print/blocks.ts';

/** The commissioning record on paper: what was proven, by whom and when, delays against settings, what remains unseen. */
export function printedRecord(answer: ProofRecordAnswer, now: Instant): PrintedDocument {
  const { site, session, record, names } = answer;
  const at = (text: string): string => when(readInstant(text), site.timeZone);
  const nameOf = ({ device }: ProofItemAnswer): string => names[device] ?? device;
  const people = [...new Set([session.by, ...record.marks.map(({ by }) => by)])].join(', ');
  return {
    title: `Commissioning record: ${site.name}`,
    foot: `${site.name} · times in ${site.timeZone}`,
    paper: paperOf(site.timeZone),
    madeAt: now,
    blocks: [
      { kind: 'paragraph', text: record.says },
      {
        kind: 'paragraph',
        text: `Proven from ${at(session.from)} to ${at(session.to)} by ${people}. ${record.drill.says}`,
      },
      ...differences(answer),
      ...provenTable(record.items, nameOf, at),
      ...delays(record.items, nameOf),
      ...unseen(answer, nameOf),
      ...list(
        'What contradicts',
        record.faults.map(({ says }) => says),
      ),
      ...list(
        'Gateways',
        record.gateways.map(({ gateway, says }) => `${gateway}: ${says}`),
      ),
      ...doneTable(answer, at),
      { kind: 'fields', labels: ['Name and signature', 'Date'] },
    ],
  };
}

function provenTable(
  items: readonly ProofItemAnswer[],
  nameOf: (item: ProofItemAnswer) => string,
  at: (text: string) => string,
): Block[] {
  const rows = items.map((item) => [
    nameOf(item),
    item.name,
    GRADE_WORDS[item.grade],
    item.at === null ? '' : at(item.at),
    item.arrivedAt === null ? '' : at(item.arrivedAt),
  ]);
  const columns = ['unit or place', 'what', 'state', 'happened', 'arrived'].map((name) => ({
    name,
    width: 2,
  }));
  return [
    { kind: 'heading', text: 'What was proven' },
    { kind: 'table', columns, rows },
  ];
}

function doneTable({ record, names }: ProofRecordAnswer, at: (text: string) => string): Block[] {
  const rows = record.marks.map((mark) => [
    at(mark.at),
    `${mark.kind.replaceAll('-', ' ')}: ${names[mark.on] ?? mark.on}${mark.note ? ` (${mark.note})` : ''}`,
    mark.by,
    at(mark.arrivedAt),
  ]);
  const columns = [
    { name: 'done', width: 2 },
    { name: 'what', width: 4 },
    { name: 'by', width: 2 },
    { name: 'arrived', width: 2 },
  ];
  return [
    { kind: 'heading', text: 'What was done' },
    { kind: 'table', columns, rows },
  ];
}

const when = (instant: Instant, zone: string): string =>
  `${dateText(wallOf(instant, zone))} ${clockText(instant, zone)}`;

function list(heading: string, items: readonly string[]): Block[] {
  return items.length === 0
    ? []
    : [
        { kind: 'heading', text: heading },
        { kind: 'list', items },
      ];
}

function differences({ differences: told }: ProofRecordAnswer): Block[] {
  if (told === null) return [];
  const items =
    told.length === 0 ? ['Nothing differs from the record before.'] : told.map(({ says }) => says);
  return list('Against the record before', items);
}

function delays(items: readonly ProofItemAnswer[], nameOf: (item: ProofItemAnswer) => string): Block[] {
  const rows = items.flatMap((item) => {
    const { measured } = item;
    if (!measured) return [];
    const [low, high] = measured.seconds.map(lengthOf);
    const seen = low === high ? high! : `${low}–${high}`;
    return [
      [
        nameOf(item),
        item.name,
        seen,
        lengthOf(measured.setting),
        measured.known,
        measured.isOff ? 'off' : 'kept',
      ],
    ];
  });
  if (rows.length === 0) return [];
  return [
    { kind: 'heading', text: 'Delays, measured against their settings' },
    {
      kind: 'table',
      columns: [
        { name: 'unit', width: 2 },
        { name: 'delay', width: 2 },
        { name: 'measured', width: 2 },
        { name: 'setting', width: 1 },
        { name: 'known', width: 1 },
        { name: 'verdict', width: 1 },
      ],
      rows,
    },
  ];
}

function unseen(
  { record, seenSince }: ProofRecordAnswer,
  nameOf: (item: ProofItemAnswer) => string,
): Block[] {
  const since = new Map(seenSince.map(({ key, says }) => [key, says]));
  const left = new Map(
    record.marks.filter(({ kind }) => kind === 'left-out').map(({ on, note }) => [on, note]),
  );
  const items = record.items
    .filter(({ grade }) => grade !== 'proven')
    .map((item) => {
      const seen = since.get(item.key);
      const note = left.get(item.key);
      return `${nameOf(item)}, ${item.name}: ${GRADE_WORDS[item.grade]}${note ? ` (${note})` : ''}${seen ? `; seen since: ${seen}` : ''}.`;
    });
  return list('What remains unseen', items);
}
