import { describe } from 'vitest';
import { tellStory, type Story } from './run.ts';

/**
 * Silence (handbook 3): a polled point for three periods, a gateway with a promised heartbeat for three periods, counted
 * over time that our own ingest was listening; and time in which it wasn't. While a silence lasts it is probable: what the
 * gateway still holds may close it.
 */
const site = (heartbeatSeconds: number | null = 60) => ({
  gateways: [{ id: 'gateway', heartbeatSeconds }],
  panels: [
    { id: 'panel-a', points: [{ signal: 'line-voltage', reporting: { mode: 'polled', seconds: 10 } }] },
  ],
  units: [],
  points: [{ signal: 'outdoor-temperature', reporting: { mode: 'polled', seconds: 60 } }],
});
const volts = (...at: number[]) => at.map((t) => `${t}: panel-a line-voltage 240`);

const STORIES: readonly Story[] = [
  {
    name: 'a polled point misses three periods while its gateway lives: point silent, last sample to next',
    about: 'panel-a',
    site: site(),
    happens: volts(0, 10, 20, 60, 70),
    readAt: 75,
    facts: ['telemetry-gap point-silent 20–60 certain/certain'],
  },
  {
    name: 'two periods missed are no silence',
    about: 'panel-a',
    site: site(),
    happens: volts(0, 10, 20, 45, 50),
    readAt: 55,
    facts: [],
  },
  {
    name: 'a point that is still silent: probable, its end waits',
    about: 'panel-a',
    site: site(),
    happens: volts(0, 10, 20),
    readAt: 60,
    facts: ['telemetry-gap point-silent 20–… probable/probable'],
  },
  {
    name: 'nobody listened meanwhile: nothing is said of the point',
    about: 'panel-a',
    site: site(),
    happens: volts(0, 10, 20, 80, 90),
    watched: [
      [-600, 25],
      [78, 95],
    ],
    readAt: 95,
    facts: [],
  },
  {
    name: 'the site’s own point is the site’s to tell of',
    about: 'site',
    site: site(),
    happens: [
      '0: site outdoor-temperature 30',
      '60: site outdoor-temperature 30',
      '300: site outdoor-temperature 31',
    ],
    readAt: 340,
    facts: ['telemetry-gap point-silent 60–300 certain/certain'],
  },
  {
    name: 'the same, read before its gateway has told of anything later: another value may come for the same instant',
    about: 'site',
    site: site(),
    happens: [
      '0: site outdoor-temperature 30',
      '60: site outdoor-temperature 30',
      '300: site outdoor-temperature 31',
    ],
    readAt: 310,
    facts: ['telemetry-gap point-silent 60–300 probable/probable'],
  },
  {
    name: 'a gateway misses three promised heartbeats: gateway silent, last life to next',
    about: 'gateway',
    site: site(),
    happens: [],
    silent: [[0, 300]],
    readAt: 400,
    facts: ['telemetry-gap gateway-silent 0–300 certain/certain'],
    standing: { gateway: { silentSince: null } },
  },
  {
    name: 'two heartbeats missed are no silence',
    about: 'gateway',
    site: site(),
    happens: [],
    silent: [[0, 150]],
    readAt: 400,
    facts: [],
  },
  {
    name: 'a gateway that is still silent',
    about: 'gateway',
    site: site(),
    happens: [],
    silent: [[0, 900]],
    readAt: 400,
    facts: ['telemetry-gap gateway-silent 0–… probable/probable'],
    standing: { gateway: { silentSince: 0, lastLife: 0 } },
  },
  {
    name: 'a gateway falls silent with its polled point: the gap is the gateway’s, and the point has none of its own',
    about: 'panel-a',
    site: site(),
    happens: volts(-20, -10, 0, 305, 315),
    silent: [[0, 300]],
    readAt: 320,
    facts: [],
  },
  {
    name: 'a gateway that is still silent explains its point as well',
    about: 'panel-a',
    site: site(),
    happens: volts(-20, -10, 0),
    silent: [[0, 900]],
    readAt: 400,
    facts: [],
  },
  {
    name: 'the site’s own point is explained by its gateway as well',
    about: 'site',
    site: site(),
    happens: [
      '-60: site outdoor-temperature 30',
      '0: site outdoor-temperature 30',
      '330: site outdoor-temperature 31',
    ],
    silent: [[0, 300]],
    readAt: 340,
    facts: [],
  },
  {
    name: 'a point that was silent before its gateway is silent by itself',
    about: 'panel-a',
    site: site(),
    happens: volts(-120, -110, 305, 315),
    silent: [[0, 300]],
    readAt: 320,
    facts: ['telemetry-gap point-silent -110–305 certain/certain'],
  },
  {
    name: 'and so is one that stays silent when its gateway lives again',
    about: 'panel-a',
    site: site(),
    happens: volts(-10, 0, 405, 415),
    silent: [[0, 300]],
    readAt: 420,
    facts: ['telemetry-gap point-silent 0–405 certain/certain'],
  },
  {
    name: 'a gateway that promised nothing explains nothing: its points tell of themselves',
    about: 'panel-a',
    site: site(null),
    happens: volts(-10, 0, 305, 315),
    silent: [[0, 300]],
    readAt: 320,
    facts: ['telemetry-gap point-silent 0–305 certain/certain'],
  },
  {
    name: 'a gateway that promised nothing is never silent',
    about: 'gateway',
    site: site(null),
    happens: [],
    silent: [[0, 900]],
    readAt: 1000,
    facts: [],
  },
  {
    name: 'between two watch marks nobody was listening',
    about: 'site',
    site: site(),
    happens: [],
    watched: [
      [-600, 100],
      [250, 400],
    ],
    readAt: 400,
    facts: ['telemetry-gap not-watched 100–250 certain/certain'],
  },
  {
    name: 'before the first mark the record came by backfill: no gap',
    about: 'site',
    site: site(),
    happens: ['-300: site outdoor-temperature 30'],
    watched: [[100, 130]],
    readAt: 130,
    facts: [],
  },
];

describe('telemetry gaps', () => STORIES.forEach(tellStory));
