import { connectAsync, type MqttClient } from 'mqtt';

/**
 * A site of many like units, wired as the demonstration's shelter is, which a test brings to its hard lockouts itself:
 * in the last 700 s each unit ran, stopped on high pressure, retried after 210 s; only the second stop is missing.
 */
export const SITE = 'page-test';
export const UNITS = Array.from({ length: 21 }, (_, i) => `unit-${i + 1}`);

const onChange = { reporting: { mode: 'on-change' } };
const SWITCH = { ...onChange, contact: 'normally-closed', sense: 'isolated' };
const POINTS = [
  { signal: 'cooling-call', ...onChange },
  { signal: 'compressor-output', ...onChange },
  { signal: 'high-pressure', ...SWITCH },
  { signal: 'low-pressure', ...SWITCH },
  { signal: 'lockout-alarm', ...onChange },
  { signal: 'control-voltage', ...onChange },
];

const document = {
  name: 'Page Test',
  timeZone: 'America/Chicago',
  gateways: UNITS.map((unit) => ({ id: `module-${unit}` })),
  panels: [{ id: 'panel-a', name: 'Panel A' }],
  spaces: UNITS.map((unit) => ({ id: `room-${unit}`, name: `Room of ${unit}` })),
  units: UNITS.map((unit) => ({
    id: unit,
    name: unit,
    panel: 'panel-a',
    space: `room-${unit}`,
    protection: { offDelay: 210, lowPressureBypass: 120, undervoltageTrip: 18 },
    points: POINTS.map((point) => ({ ...point, gateway: `module-${unit}` })),
  })),
};

export interface LockoutSite {
  /** the unit stops on high pressure for the second time in its call, and its alarm contact closes; answers when it was sent */
  lockOut(unit: string): Promise<number>;
  /** the unit stops on high pressure for the first time, so many seconds ago */
  softStop(unit: string, secondsAgo: number): Promise<void>;
  end(): Promise<void>;
}

type Signals = Readonly<Record<string, number>>;

export async function makeLockoutSite(url: string, mqttUrl: string): Promise<LockoutSite> {
  const answer = await fetch(`${url}/api/sites/${SITE}?from=always`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify(document),
  });
  if (!answer.ok) throw new Error(`${answer.status}: ${await answer.text()}`);
  const client = await connectAsync(mqttUrl, { clientId: 'page-test' });
  const start = Date.now();
  for (const unit of UNITS)
    await tell(
      client,
      unit,
      history(unit === UNITS.at(-1)).map(([s, signals]) => [start + s * 1000, signals]),
    );
  return {
    async lockOut(unit) {
      const at = Date.now();
      await tell(client, unit, [[at, { 'high-pressure': 0, 'compressor-output': 0, 'lockout-alarm': 1 }]]);
      return at;
    },
    softStop: (unit, secondsAgo) =>
      tell(client, unit, [
        [Date.now() - secondsAgo * 1000, { 'high-pressure': 0, 'compressor-output': 0 }],
        [Date.now(), { 'control-voltage': 26.2 }],
      ]),
    end: () => client.endAsync(),
  };
}

/** seconds from now, and the raw values: 1 is closed */
const history = (never: boolean): [number, Signals][] => [
  [
    -700,
    {
      'control-voltage': 26.1,
      'cooling-call': 0,
      'compressor-output': 0,
      'high-pressure': 1,
      'low-pressure': 1,
      'lockout-alarm': 0,
    },
  ],
  [-600, { 'cooling-call': 1, 'compressor-output': 1 }],
  ...(never
    ? []
    : ([
        [-400, { 'high-pressure': 0, 'compressor-output': 0 }],
        [-380, { 'high-pressure': 1 }],
        [-190, { 'compressor-output': 1 }],
      ] as [number, Signals][])),
  [-1, { 'control-voltage': 26 }],
];

const tell = (
  client: MqttClient,
  unit: string,
  entries: readonly (readonly [at: number, signals: Signals])[],
) =>
  client
    .publishAsync(
      `holdoff/${SITE}/${unit}`,
      JSON.stringify(entries.map(([t, signals]) => ({ t, signals }))),
      { qos: 1 },
    )
    .then(() => undefined);
