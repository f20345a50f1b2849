import { refusedRoot } from '../../shared/wire/sounder-topics.ts';

/** Whether local stack lights are told of, read from the environment once. */
export interface SounderSettings {
  readonly root: string;
  /** null: every site */
  readonly sites: readonly string[] | null;
}

/** null: none is told. */
export function readSounderSettings(
  environment: Readonly<Record<string, string | undefined>>,
  faults: string[],
): SounderSettings | null {
  const given = (name: string): string | null => environment[name]?.trim() || null;
  const root = given('SOUNDER_ROOT');
  if (root === null) return null;
  const refused = refusedRoot(root, given('MQTT_ROOT') ?? 'holdoff');
  if (refused !== null) faults.push(refused);
  const sites = given('SOUNDER_SITES');
  return { root, sites: sites === null ? null : sites.split(',').map((site) => site.trim()) };
}
