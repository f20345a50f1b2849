import { spokenLength } from './durations.ts';

/** The first line of how telemetry comes in: who is silent, who is behind, what was set aside. */
export interface TelemetryFacts {
  readonly points: number;
  readonly silent: number;
  readonly never: number;
  readonly gateways: readonly {
    readonly id: string;
    readonly isSilent: boolean;
    readonly behindSeconds: number | null;
    readonly isCatchingUp: boolean;
  }[];
  /** in the last 24 h */
  readonly setAside: { readonly count: number; readonly topics: number };
}

/** Named one by one up to so many. */
const NAMED = 3;

export function telemetrySentence(facts: TelemetryFacts): string {
  const parts = [pointsPart(facts), ...gatewayParts(facts), setAsidePart(facts)].filter(
    (part) => part !== null,
  );
  const sentence = parts.join('; ');
  return `${sentence[0]!.toUpperCase()}${sentence.slice(1)}.`;
}

/** Whether there is anything to look into. */
export const isWell = ({ silent, never, gateways }: TelemetryFacts): boolean =>
  silent + never === 0 &&
  gateways.every(({ isSilent, behindSeconds }) => !isSilent && behindSeconds === null);

function pointsPart({ points, silent, never }: TelemetryFacts): string | null {
  if (points === 0) return 'no point is configured';
  const of = (count: number) => `${count} of ${points} points`;
  const is = (count: number) => (count === 1 ? 'is' : 'are');
  const found = [
    silent > 0 ? `${of(silent)} ${is(silent)} silent` : null,
    never > 0
      ? `${silent > 0 ? String(never) : of(never)} ${never === 1 ? 'was' : 'were'} never heard`
      : null,
  ].filter((part) => part !== null);
  if (found.length > 0) return found.join(', ');
  return points === 1 ? 'the one point is heard' : `all ${points} points are heard`;
}

function gatewayParts({ gateways }: TelemetryFacts): string[] {
  const silent = gateways.filter(({ isSilent }) => isSilent);
  const late = gateways.filter(({ isSilent, behindSeconds }) => !isSilent && behindSeconds !== null);
  const behind = late.filter(({ isCatchingUp }) => !isCatchingUp);
  const held = late.filter(({ isCatchingUp }) => isCatchingUp).map(({ id }) => id);
  const parts: string[] = [];
  if (silent.length > NAMED) parts.push(`${silent.length} gateways are silent`);
  else if (silent.length > 0)
    parts.push(`${listed(silent.map(({ id }) => id))} ${silent.length === 1 ? 'is' : 'are'} silent`);
  if (behind.length > NAMED) parts.push(`${behind.length} gateways are behind`);
  else
    for (const { id, behindSeconds } of behind) parts.push(`${id} is ${spokenLength(behindSeconds!)} behind`);
  if (held.length > NAMED) parts.push(`${held.length} gateways deliver what they held`);
  else if (held.length > 0)
    parts.push(`${listed(held)} ${held.length === 1 ? 'delivers what it held' : 'deliver what they held'}`);
  return parts;
}

function setAsidePart({ setAside: { count, topics } }: TelemetryFacts): string | null {
  if (count === 0) return null;
  const entries = count === 1 ? '1 entry was' : `${grouped(count)} entries were`;
  const where = count === 1 ? '' : topics === 1 ? ', all from one topic' : `, from ${grouped(topics)} topics`;
  return `${entries} set aside in the last 24 h${where}`;
}

const listed = (words: readonly string[]): string =>
  [words.slice(0, -1).join(', '), words.at(-1)].filter(Boolean).join(' and ');

const grouped = (count: number): string => String(count).replace(/\B(?=(\d{3})+$)/g, ',');
