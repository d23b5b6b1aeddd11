// What the page tests share: pages made by the program, a real browser that looks at them from disk as a user would, and
// the running of the tests. Each suite is called as
//
//   node tests/page/test_NAME.mjs PROGRAM FOLDER [words...]
//
// PROGRAM is thundercue; FOLDER holds node_modules with playwright-core and takes recordings, pages and screenshots. With
// words only the tests that have one of them in their name run.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { writeStorm } from './storm.mjs';

export const program = path.resolve(process.argv[2]);
const folder = path.resolve(process.argv[3]);
const { chromium } = createRequire(path.join(folder, 'x.js'))('playwright-core');
export const work = path.join(folder, path.basename(process.argv[1], '.mjs'));
export const shots = path.join(folder, 'shots');

const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
  '--disable-component-update', '--disable-sync', '--autoplay-policy=no-user-gesture-required'];
export const CRACKS = [1.5, 4.2, 6.9];

// ---- making pages ----

export function cue(recording, ...more) {
  const out = path.join(work, 'out');
  const done = spawnSync(program, ['cue', recording, '--out', out, '--force', '--quiet', ...more], { encoding: 'utf8' });
  assert.ok(done.status === 0 || done.status === 1, `cue ${recording} ended with ${done.status}: ${done.stderr}`);
  const stem = path.basename(recording).replace(/\.[^.]*$/, '');
  return path.join(out, `${stem}.preview.html`);
}

export function storm(name, options) {
  const recording = path.join(work, `${name}.wav`);
  writeStorm(recording, options);
  return recording;
}

// Rows of frames.csv without quotes in them: [time, levels...].
export function readFrames(page) {
  const rows = readFileSync(page.replace(/preview\.html$/, 'frames.csv'), 'utf8').trim().split('\r\n').slice(1);
  return rows.map((row) => row.split(',').map(Number));
}

// Times of the cracks in events.csv, in seconds.
export function readCracks(page) {
  const rows = readFileSync(page.replace(/preview\.html$/, 'events.csv'), 'utf8').trim().split('\r\n').slice(1);
  return rows.filter((row) => row.startsWith('crack')).map((row) => Number(row.split(',')[1]));
}

// ---- looking ----

export let browser;
export async function open(file, { width = 1024, height = 768, ...context } = {}) {
  const view = await browser.newContext({ viewport: { width, height }, ...context });
  const page = await view.newPage();
  page.complaints = [];
  page.on('console', (message) => ['error', 'warning'].includes(message.type()) && page.complaints.push(message.text()));
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('dialog', (dialog) => {
    page.complaints.push(`dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  page.requests = [];
  page.on('request', (request) => page.requests.push(request.url()));
  await page.goto(pathToFileURL(file).href);
  await page.waitForFunction(() => window.thundercue, null, { timeout: 20000 });
  return page;
}

export const state = (page) => page.evaluate(() => window.thundercue.state());
export const seek = (page, seconds) => page.evaluate((at) => window.thundercue.seek(at), seconds);

// The light of the picture in linear terms (sRGB, IEC 61966-2-1): {mean, most, spots: [...]} with the brightest pixel
// within a few pixels of each channel's own spot.
export function measure(page, numbers = []) {
  return page.evaluate((wanted) => {
    const canvas = window.thundercue.picture;
    const box = canvas.getBoundingClientRect();
    const { data, width, height } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    const linear = (v) => (v <= 0.04045 * 255 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
    const at = (k) => 0.2126 * linear(data[k]) + 0.7152 * linear(data[k + 1]) + 0.0722 * linear(data[k + 2]);
    let sum = 0, most = 0;
    for (let k = 0; k < data.length; k += 4) {
      const light = at(k);
      sum += light;
      most = Math.max(most, light);
    }
    const spots = wanted.map((number) => {
      const spot = window.thundercue.spot(number);
      const [cx, cy] = [((spot.x - box.left) * width) / box.width, ((spot.y - box.top) * height) / box.height];
      let best = 0;
      for (let y = Math.round(cy) - 3; y <= cy + 3; y++)
        for (let x = Math.round(cx) - 3; x <= cx + 3; x++)
          if (x >= 0 && y >= 0 && x < width && y < height) best = Math.max(best, at(4 * (y * width + x)));
      return best;
    });
    return { mean: sum / (data.length / 4), most, spots };
  }, numbers);
}

export async function acceptNotice(page) {
  await page.keyboard.press('Space');
  await page.click('#accept');
}

// WCAG 2.2, 1.4.10: content reflows without scrolling sideways.
export async function assertNoSidewaysScroll(page) {
  const { wide, room } = await page.evaluate(() => ({ wide: document.documentElement.scrollWidth, room: innerWidth }));
  assert.ok(wide <= room, `the page is ${wide} pixels wide in a window of ${room}`);
}

// ---- the workbench ----

export async function openBench(file, options) {
  const page = await open(file, options);
  await page.waitForFunction(() => window.thundercue.state().bench, null, { timeout: 20000 });
  return page;
}

export const fileOf = async (page, what) => Buffer.from(await page.evaluate(async (name) => {
  let text = '';
  for (const byte of await window.thundercue.file(name)) text += String.fromCharCode(byte);
  return text;
}, what), 'latin1');
export const eventsOf = (page) => page.evaluate(() => window.thundercue.events());

export async function slide(page, id, value) {
  await page.evaluate(([name, to]) => {
    const input = document.getElementById(name);
    input.value = to;
    input.dispatchEvent(new Event('input', { bubbles: true }));
    input.dispatchEvent(new Event('change', { bubbles: true }));
  }, [id, String(value)]);
}

// What the page would save and what the program makes of it: events, settings and rig in, the same files out.
export async function assertSameAsProgram(page, recording, rig, step) {
  const saved = path.join(work, 'saved');
  mkdirSync(saved, { recursive: true });
  for (const what of ['events', 'settings']) writeFileSync(path.join(saved, what), await fileOf(page, what));
  const rigs = [];
  if (rig) {
    writeFileSync(path.join(saved, 'rig'), await fileOf(page, 'rig'));
    assert.ok(readFileSync(path.join(saved, 'rig')).equals(readFileSync(rig)), 'the rig file is the one that came in');
    rigs.push('--rig', path.join(saved, 'rig'));
  }
  const out = path.join(work, 'program');
  const done = spawnSync(program, ['cue', recording, '--out', out, '--force', '--quiet', '--no-preview', '--events', path.join(saved, 'events'),
    '--settings', path.join(saved, 'settings'), ...rigs], { encoding: 'utf8' });
  assert.ok(done.status <= 1, `${step}: ${done.stderr}`);
  const stem = path.basename(recording).replace(/\.[^.]*$/, '');
  for (const what of ['events', 'frames', 'ramps'])
    assert.ok((await fileOf(page, what)).equals(readFileSync(path.join(out, `${stem}.${what}.csv`))), `${what}.csv differs after ${step}`);
}

// ---- the page without a storm ----

export async function openEmpty(options) {
  const view = await browser.newContext({ viewport: { width: 1024, height: 768 }, ...options });
  const page = await view.newPage();
  page.complaints = [];
  page.requests = [];
  page.on('console', (message) => ['error', 'warning'].includes(message.type()) && page.complaints.push(message.text()));
  page.on('pageerror', (error) => page.complaints.push(String(error)));
  page.on('request', (request) => page.requests.push(request.url()));
  await page.goto(pathToFileURL(path.resolve('build/thundercue.html')).href);
  await page.waitForSelector('#open-files');
  return page;
}

export const benchOpens = (page) => page.waitForFunction(() => window.thundercue && window.thundercue.state().bench, null, { timeout: 30000 });

// ---- running them ----

const wanted = process.argv.slice(4);
const tests = [];
export const test = (name, run) => (!wanted.length || wanted.some((word) => name.includes(word))) && tests.push([name, run]);
export let base; // the page most tests look at

export async function runTests() {
  rmSync(work, { recursive: true, force: true });
  mkdirSync(work, { recursive: true });
  mkdirSync(shots, { recursive: true });
  let failed = 0;
  try {
    base = cue(storm('storm', { seconds: 9, cracks: CRACKS }), '--seed', '7');
    browser = await chromium.launch({ executablePath: process.env.CHROMIUM || '/usr/bin/chromium', args: FLAGS });
    for (const [name, run] of tests) {
      const start = Date.now();
      try {
        await run();
        console.log(`[       OK ] ${name} (${Date.now() - start} ms)`);
      } catch (problem) {
        failed++;
        console.log(`[  FAILED  ] ${name}\n${problem.stack || problem}`);
      }
      for (const context of browser.contexts()) await context.close();
    }
  } catch (problem) {
    failed++;
    console.log(`[  FAILED  ] the page tests can't run\n${problem.stack || problem}`);
  }
  if (browser) await browser.close();
  rmSync(work, { recursive: true, force: true });
  process.exitCode = failed ? 1 : 0;
}
