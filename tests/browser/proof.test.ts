import type { MqttClient } from 'mqtt';
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import type { ProofAnswer, ProofRecordAnswer } from '../../shared/wire/proof-answer.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { startHook, type Hook } from '../fixtures/hook.ts';
import { connectClient, startTestIngest, type TestIngest } from '../fixtures/ingest.ts';
import { Installer } from '../fixtures/installer.ts';
import { JumpingClock } from '../fixtures/jumping-clock.ts';
import { readPdf } from '../fixtures/pdf.ts';
import { ProofVisit } from '../fixtures/proof-visit.ts';
import { ADMINISTRATOR } from '../fixtures/signed-in.ts';
import { SiteBuilder } from '../fixtures/site-builder.ts';
import { openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * An installer with a phone of 390 px, from an empty installation to a proven shelter of two units, by clicking and typing
 * alone. Its gateway publishes over MQTT by what was made for it on the page; wrong are the polarity of one contact, two
 * swapped wires, one dead wire, and its clock, 90 s behind. Each fault is found and named, put right on the page, and the
 * record printed; then once more, at a copy of that site, with the phone offline ten of every fifteen minutes and the gateway
 * three minutes late. The server’s, the ingest’s and the phone’s clock jump together where there would be nothing but waiting.
 */
const WRONG = {
  clock: -90,
  inverted: ['unit-1/compressor-output'],
  swapped: [['unit-1/cooling-call', 'unit-2/cooling-call']] as const,
  dead: ['unit-2/lockout-alarm'],
};
const clock = new JumpingClock();

let api: ApiServer;
let ingest: TestIngest;
let hook: Hook;
let browser: BrowserContext;
let page: Page;
let installer: Installer;
let builder: SiteBuilder;
const gateways: MqttClient[] = [];
let ridge: ProofVisit;
let hollow: ProofVisit;

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER, clock: clock.now });
  ingest = await startTestIngest({
    databaseUrl: api.store.url,
    clock: clock.now,
    door: { anonymous: false },
  });
  hook = await startHook();
  browser = await openBrowser({ width: 390, ground: 'light' }, 'America/Chicago', 'allow');
  page = await browser.newPage();
  installer = new Installer(page);
  builder = new SiteBuilder(installer);
});
afterAll(async () => {
  await browser?.close();
  await Promise.all(gateways.map((client) => client.endAsync()));
  await hook?.stop();
  await ingest?.stop();
  await api?.stop();
});

const go = (path: string) => page.goto(new URL(path, api.server.url).href);
const press = (name: string | RegExp) => page.getByRole('button', { name });
const answer = () => page.locator('main h1');

/** Nothing that axe finds and nothing wider than the phone; with SHOTS its picture, and one as wide as a desk. */
async function expectNoFaults(name: string): Promise<void> {
  const folder = process.env['SHOTS'];
  for (const width of folder ? [1440, 390] : []) {
    await page.setViewportSize({ width, height: 844 });
    await page.screenshot({ path: `${folder}/proof-${name}-${width}.png`, fullPage: true });
  }
  expect(await faultsOf(page)).toEqual([]);
}

/** A user and a password on the page, and the gateway that they are entered in. */
async function letIn(): Promise<MqttClient> {
  await installer.press('Make a user and password');
  const [username, password] = await Promise.all(
    ['User', 'Password'].map((label) => page.getByLabel(label, { exact: true }).inputValue()),
  );
  await installer.reads(/^The gateway has what it connects by\./);
  const client = await connectClient(ingest.url, { username: username!, password: password! });
  gateways.push(client);
  return client;
}

async function journey(visit: ProofVisit, name: string): Promise<void> {
  await press('Begin the proof').click();
  await answer()
    .filter({ hasText: /^Don’t leave yet: / })
    .waitFor();
  await expect.poll(async () => ((await answer().boundingBox())?.y ?? 844) < 500).toBe(true);

  for (const [unit, kind, length] of [
    [1, 'call-on', 60],
    [1, 'call-off', 40],
    [2, 'call-on', 60],
    [2, 'call-off', 20],
    [2, 'alarm-open', 15],
    [2, 'alarm-closed', 40],
  ] as const) {
    await visit.do(unit, kind);
    await visit.wait(length);
  }
  await visit.arrived();
  for (const says of [
    /Clock off: gateway is (8[7-9]|9[0-3]) s behind\./,
    'Two wires are swapped: Unit 1’s cooling call and Unit 2’s cooling call.',
    'Dead wire: Unit 2’s alarm contact never moved.',
    'Wrong polarity: Unit 1’s compressor output is recorded as normally-open and behaves as normally-closed.',
  ])
    await page.getByRole('heading', { level: 3, name: says }).waitFor();
  await expectNoFaults(`${name}-faults`);

  await press(/^Set its clock right by/).click();
  await page.getByRole('heading', { level: 3, name: /^Clock off/ }).waitFor({ state: 'detached' });
  await press('Set it to normally-closed').click();
  await page
    .getByRole('heading', { level: 3, name: /Wrong polarity: Unit 1/ })
    .waitFor({ state: 'detached' });
  await press('Swap these two').click();
  await page.getByRole('heading', { level: 3, name: /Two wires are swapped/ }).waitFor({ state: 'detached' });
  visit.shelter.rewire({ dead: [] });
  await press('I have mended this wire').click();
  await page.getByRole('heading', { level: 3, name: /Dead wire/ }).waitFor({ state: 'detached' });
  await visit.wait(30);

  await visit.prove(1);
  await visit.prove(2);
  await visit.arrived();
  const told = hook.heard.length;
  await press('Send the TEST notice').click();
  await page.getByText('nobody has answered it yet').waitFor();
  // the other shelter’s gateway may be silent meanwhile, which is told as ever
  const tests = () =>
    hook.heard
      .slice(told)
      .map(({ body }) => (JSON.parse(body) as { data: { test?: boolean } }).data)
      .filter(({ test: isTest }) => isTest);
  const says = 'TEST: nothing has happened, nobody needs to come.';
  await expect.poll(tests).toMatchObject([{ says, site: visit.site }]);
  await press('It has reached me: answer the TEST').click();
  await answer()
    .filter({
      hasText:
        /^You may leave: 16 proven, 4 can’t be provoked safely, 0 contradict; test notice answered \d\d:\d\d\.$/,
    })
    .waitFor();
  await expect.poll(async () => ((await answer().boundingBox())?.y ?? 844) < 500).toBe(true);
  await page
    .getByText(/happened \d\d:\d\d:\d\d, arrived \d\d:\d\d:\d\d/)
    .first()
    .waitFor();
  await expectNoFaults(`${name}-leave`);

  await press('End the proof').click();
  await page.getByRole('heading', { name: 'Commissioning records' }).waitFor();
  const paper = page.getByRole('link', { name: /^Print the record/ });
  const file = await page.request.get(new URL((await paper.getAttribute('href'))!, api.server.url).href);
  const { text, pages } = readPdf(await file.body());
  expect(pages.every(({ coloured }) => !coloured)).toBe(true);
  expect(text).toContain('You may leave: 16 proven, 4 can’t be provoked safely, 0 contradict');
  expect(text).toContain(`by ${ADMINISTRATOR.name}`);
  expect(text).toMatch(/Unit 1 off-cycle delay (29|30|31).* 30 s recorded kept/);
  expect(text).toMatch(/Unit 2, low-pressure switch: not yet seen; can’t be provoked safely/);
}

test('an empty installation leads to its first administrator, and she to the first site', async () => {
  await page.clock.install();
  await go('/');
  await installer.reads('No site is set up yet.');
  await expectNoFaults('empty');
  await installer.follow('Set up the first administrator');
  await installer.type('Your name', ADMINISTRATOR.name);
  await installer.type('E-mail address', ADMINISTRATOR.email);
  await installer.type('Password', ADMINISTRATOR.password);
  await installer.press('Set up');
  await installer.reads('Begin with the first site.');
  await page.locator('header').getByRole('link', { name: ADMINISTRATOR.name }).waitFor();
  await page.evaluate('navigator.serviceWorker.ready.then(() => true)');
  await expect.poll(() => page.evaluate('navigator.serviceWorker.controller !== null')).toBe(true);
  expect(installer.takeSteps()).toBe(5);
});

test('a shelter from a usual wiring, with what is otherwise here, by its forms', async () => {
  await builder.begin('Kettle Ridge');
  await builder.heartbeat(600);
  await builder.lineVoltage(10);
  await builder.unit('Unit 1', 30);
  await go('/start');
  await installer.reads('Next: look at Kettle Ridge in the editor, and save it.');
  await installer.follow('Go on: To be saved');
  await builder.unit('Unit 2', 50);
  await builder.save('Kettle Ridge');
  await expectNoFaults('saved');
  await installer.follow('Go on setting up');
  expect(installer.takeSteps()).toBe(29);
});

test('its gateway is turned away until it has a user and a password, which are shown once', async () => {
  await expect(connectClient(ingest.url)).rejects.toThrow();
  await installer.reads('Next: what the gateway of Kettle Ridge connects by.');
  await expectNoFaults('start');
  await installer.follow('Go on: What its gateway connects by');
  await installer.reads(/^The gateway has nothing yet to connect by\./);
  const gateway = await letIn();
  await expectNoFaults('gateway');
  ridge = new ProofVisit({ site: 'kettle-ridge', wrong: WRONG, clock, browser, page, gateway });
  expect(installer.takeSteps()).toBe(2);
});

test('left here and opened anew, the page says what is next: the gateway publishes, and somebody is on call', async () => {
  await go('/start');
  await installer.reads('Next: let the gateway of Kettle Ridge publish.');
  await ridge.flush();
  await expect
    .poll(async () => {
      await ridge.wait(5);
      return answer().innerText();
    })
    .toBe('Next: who is on call.');
  await installer.follow('Go on: Who is on call');
  await installer.reads('Nobody is on call: there is no roster yet.');
  await installer.choose('Kind of channel', 'webhook');
  await installer.type('Address', hook.url);
  await installer.press('Add');
  await installer.press('Send a test');
  await expect.poll(() => hook.heard.length).toBe(1);
  await installer.press('It came through');
  await installer.open('A new policy');
  const policy = page.locator('details', { hasText: 'A new policy' });
  await installer.type('Name', 'All sites', policy);
  await installer.choose('1. Ask', ADMINISTRATOR.name, policy);
  await installer.press('Save', policy);
  await installer.reads('There is no roster: the policy asks people by name.');
  await expectNoFaults('on-call');
  await installer.follow('Go on setting up');
  await installer.reads('Next: go to Kettle Ridge and prove its wiring.');
  expect(installer.takeSteps()).toBe(11);
});

test('the next shelter, which is wired alike, is a copy', async () => {
  await builder.beginCopy('Kettle Hollow', 'Kettle Ridge');
  await builder.save('Kettle Hollow');
  await installer.follow('Go on setting up');
  await installer.reads('Next: what the gateway of Kettle Hollow connects by.');
  await installer.follow('Go on: What its gateway connects by');
  const gateway = await letIn();
  const place = { site: 'kettle-hollow', wrong: WRONG, clock, browser, page, gateway };
  hollow = new ProofVisit({ ...place, lossy: true, lateSeconds: 180 });
  await installer.follow('Go on setting up');
  expect(installer.takeSteps()).toBe(10);
});

test('each fault is found, named, put right on the page, and the record printed', async () => {
  await installer.follow('The wiring of Kettle Ridge');
  await page.getByText('Never join the control commons of two units through one input bank').waitFor();
  await expectNoFaults('before');
  await journey(ridge, 'online');
  await installer.follow('Go on setting up');
  await page.getByText(/^Proven on \w+ \d+ \w+ \d{4}, due again on \w+ \d+ \w+ \d{4}\.$/).waitFor();
  await installer.reads('Next: let the gateway of Kettle Hollow publish.');
});

test('the same with the phone offline ten of every fifteen minutes and the gateway three minutes late', async () => {
  await hollow.flush();
  await go('/sites/kettle-hollow/proof');
  await journey(hollow, 'offline');
  await installer.follow('Go on setting up');
  await installer.reads('Everything is set up, and every site is proven.');
  await expectNoFaults('done');
});

test('a year later it is due again, and the new record says what differs', async () => {
  clock.jump(366 * 86_400);
  const ask = async (method: 'GET' | 'POST', path: string, data?: object) => {
    const url = new URL(`/api/${path}`, api.server.url).href;
    const headers = { 'sec-fetch-site': 'same-origin' };
    const answered = await page.request.fetch(url, { method, headers, ...(data ? { data } : {}) });
    expect([path, answered.status()]).toEqual([path, 200]);
    return (await answered.json()) as ProofAnswer & ProofRecordAnswer;
  };
  const { email, password } = ADMINISTRATOR;
  await ask('POST', 'account/sign-in', { email, password });
  const site = 'sites/kettle-ridge/proof';
  expect(Date.parse((await ask('GET', site)).dueAt!)).toBeLessThan(clock.now() / 1000);
  const { session } = await ask('POST', `${site}/begin`);
  await ask('POST', `${site}/end`);
  const { differences } = await ask('GET', `${site}/${session!.id}`);
  expect(differences!.map(({ says }) => says)).toContain(
    'Unit 1, cooling call: was proven, is not yet seen.',
  );
});
