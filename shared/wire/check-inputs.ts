import type { PointDocument, SiteDocument } from './site-document.ts';

type Say = (pointer: string, message: string) => void;
type PointLists = readonly (readonly [pointer: string, device: string, points: readonly PointDocument[]])[];

/** `input`: the name under which a point is told, where its wire lies on another’s input. No name is two points’. */
export function checkInputs(document: SiteDocument, say: Say): void {
  const taken = new Map<string, string>();
  for (const [list, device, points] of listsOf(document))
    for (const [i, { signal, input, source, sparkplug }] of points.entries()) {
      const at = `${list}/${i}`;
      if (input !== undefined && (source !== undefined || sparkplug !== undefined))
        say(`${at}/input`, 'A point has one source: keep either "input", "source" or "sparkplug".');
      if (source !== undefined || sparkplug !== undefined) continue;
      const name = input ?? `${device}/${signal}`;
      const other = taken.get(name);
      if (other === undefined) taken.set(name, at);
      else if (input !== undefined || isMoved(document, other))
        say(
          `${at}/input`,
          `What is told as ${name} is taken by ${other} already: two points that are swapped name each other.`,
        );
    }
}

function isMoved(document: SiteDocument, at: string): boolean {
  return listsOf(document).some(([list, , points]) =>
    points.some(({ input }, i) => `${list}/${i}` === at && input !== undefined),
  );
}

const listsOf = ({ points = [], units = [], panels = [], spaces = [] }: SiteDocument): PointLists => [
  ['/points', 'site', points],
  ...Object.entries({ units, panels, spaces }).flatMap(([kind, devices]) =>
    devices.map((device, i) => [`/${kind}/${i}/points`, device.id, device.points ?? []] as const),
  ),
];
