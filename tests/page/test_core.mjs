// Runs the sample storm through the library as WebAssembly, without a browser: what it hears and cues are the program's
// bytes.
//
//   node tests/page/test_core.mjs PROGRAM CORE.wasm SYNTH FOLDER
//
// SYNTH makes the sample storm (build/synth), so that its samples are known without any decoder; FOLDER takes files.
import assert from 'node:assert/strict';
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync } from 'node:fs';
import path from 'node:path';

const [program, wasm, synth, folder] = process.argv.slice(2).map((name) => path.resolve(name));
const work = path.join(folder, 'core');
const source = ['words.js', 'core.js', 'edit/storm.js'].map((name) => readFileSync(`src/page/${name}`, 'utf8')).join('\n');
const { Core, handOf, handWith, mended } = new Function(`"use strict";${source}; return { Core, handOf, handWith, mended };`)();

// The samples of a 16-bit or 24-bit WAV file as it comes from SYNTH: a list of channels, full scale 1.
function readWave(file) {
  const bytes = readFileSync(file);
  let at = 12;
  let format, data;
  while (at + 8 <= bytes.length) {
    const size = bytes.readUInt32LE(at + 4);
    if (bytes.toString('latin1', at, at + 4) === 'fmt ') format = at + 8;
    if (bytes.toString('latin1', at, at + 4) === 'data') data = { from: at + 8, size };
    at += 8 + size + (size & 1);
  }
  const channels = bytes.readUInt16LE(format + 2);
  const rate = bytes.readUInt32LE(format + 4);
  const wide = bytes.readUInt16LE(format + 14) / 8;
  const frames = data.size / wide / channels;
  return { rate, channels: Array.from({ length: channels }, (_, c) => Float32Array.from({ length: frames },
    (_, i) => bytes.readIntLE(data.from + (i * channels + c) * wide, wide) / 2 ** (8 * wide - 1))) };
}

const rigs = [null, 'samples/mill-pond.rig', 'samples/backyard.rig', 'samples/three-bolts.rig'];
const settings = ['', 'sensitivity = 75\n', 'levels = 8bit\nseed = 11\nloop = on\n', 'rumble-light = 0.3\nglimmer = 1\nsensitivity = 90\n'];

// What the page says at a glance, as the program's own report for machines has it.
function assertSameReport(page, report, what) {
  const { summary, flash } = page;
  assert.deepEqual({ cracks: summary.cracks, rumbles: summary.rumbles, strokes: summary.strokes, cracks_held_back: summary.held_back,
    dimmed: page.dimmed.length, restrikes_left_out: flash.changed.dropped, frames_held_back: flash.changed.softened,
    peak: flash.peak_count, peak_at: flash.peak_at_s, lit: (1 - summary.dark_share).toFixed(4), dark: summary.longest_dark_s,
    load: page.rig.circuits.map((circuit) => [circuit.reached_w, circuit.reached_at_s]) },
  { cracks: report.cracks, rumbles: report.rumbles, strokes: report.strokes, cracks_held_back: report.cracks_held_back,
    dimmed: report.cracks_held_back, restrikes_left_out: report.restrikes_left_out, frames_held_back: report.flashes.frames_held_back,
    peak: report.flashes.peak_in_a_second, peak_at: report.flashes.peak_at_s, lit: report.light.lit_share.toFixed(4), dark: report.light.longest_dark_s,
    load: report.circuits.map((circuit) => [circuit.reached_w, circuit.reached_at_s]) }, what);
}

// Two cracks of one millisecond are two, and each can be changed or deleted by itself.
function assertTwinsStayTwo() {
  const crack = (strength) => ({ kind: 'crack', start_s: 1.5, end_s: 1.5, peak_s: 1.5, strength, sharpness: 1, level_dbfs: -9, strokes: 0, path: [] });
  const twins = [crack(0.5), crack(0.9)];
  const hand = handOf(twins, twins);
  assert.deepEqual(hand, { removed: [], changed: {}, added: [] });
  const list = mended(twins, hand);
  assert.deepEqual(list.map(({ event }) => event.strength), [0.5, 0.9]);
  assert.deepEqual(mended(twins, handWith(hand, list[1], null)).map(({ event }) => event.strength), [0.5]);
  assert.deepEqual(mended(twins, handWith(hand, list[0], crack(0.7))).map(({ event }) => event.strength), [0.7, 0.9]);
  assert.deepEqual(mended(twins, handOf(twins, [crack(0.5), crack(0.8), crack(1)])).map(({ event }) => event.strength), [0.5, 0.8, 1]);
}

rmSync(work, { recursive: true, force: true });
mkdirSync(work, { recursive: true });
const storm = path.join(work, 'storm.wav');
execFileSync(synth, [storm, '--seed', '6', '--seconds', '33', '--flash', '1.2:6000', '--flash', '9.2:2000', '--flash', '17.5:420',
  '--flash', '27.5:5000', '--hiss', '66', '--rain', '40', '--rain-drops', '48', '--rain-from', '20']);
let failed = 0;
try {
  const core = await Core.open(readFileSync(wasm).toString('base64'));
  assert.ok(core, 'the core does not start');
  // A settings file means what the library reads in it.
  assert.deepEqual(core.settings('\uFEFF; dim\r\nflood-share: 0.25\r\n  seed = 9 ; mine\r\nsensitivity = 50\r\n'), { seed: '9', 'flood-share': '0.25' });
  assert.throws(() => core.settings('seed 9\n'), /settings:1: /);
  assertTwinsStayTwo();
  const { rate, channels } = readWave(storm);
  let same = 0;
  let heldBack = 0;
  let heardIn;
  for (const lines of settings) {
    core.settings(lines);
    const start = performance.now();
    core.listen(rate, channels);
    heardIn = performance.now() - start;
    for (const rig of rigs) {
      core.rig(rig ? readFileSync(rig, 'utf8') : '');
      const page = core.cue(3);
      const words = lines.split('\n').filter(Boolean).flatMap((line) => {
        const [name, value] = line.split(' = ');
        return value === 'on' ? [`--${name}`] : [`--${name}`, value];
      });
      const done = spawnSync(program, ['cue', storm, '--out', work, '--force', '--quiet', '--no-preview', '--json', '-', ...(rig ? ['--rig', rig] : []), ...words], { encoding: 'utf8' });
      assert.ok(done.status <= 1, done.stderr);
      assertSameReport(page, JSON.parse(done.stdout), `${rig || 'built-in rig'}, ${JSON.stringify(lines)}`);
      heldBack += page.summary.held_back;
      for (const name of ['events', 'frames', 'ramps']) {
        const want = readFileSync(path.join(work, `storm.${name}.csv`));
        assert.ok(Buffer.from(core.bytes(name)).equals(want), `${name}.csv differs, ${rig || 'built-in rig'}, ${JSON.stringify(lines)}`);
        same++;
      }
    }
  }
  assert.ok(heldBack > 0, 'no crack was held back: the test asks nothing of that');
  console.log(`[       OK ] the library as WebAssembly writes the program's bytes and says what its report says (${same} files; 33 s of storm heard in ${Math.round(heardIn)} ms)`);
} catch (problem) {
  failed = 1;
  console.log(`[  FAILED  ] the library as WebAssembly writes the program's bytes\n${problem.stack}`);
}
rmSync(work, { recursive: true, force: true });
process.exitCode = failed;
