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
const source = ['words.js', 'core.js'].map((name) => readFileSync(`src/page/${name}`, 'utf8')).join('\n');
const Core = new Function(`"use strict";${source}; return Core;`)();

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
const settings = ['', 'sensitivity = 75\n', 'levels = 8bit\nseed = 11\nloop = on\n'];

rmSync(work, { recursive: true, force: true });
mkdirSync(work, { recursive: true });
const storm = path.join(work, 'storm.wav');
execFileSync(synth, [storm, '--seed', '6', '--seconds', '33', '--flash', '1.2:6000', '--flash', '9.2:2000', '--flash', '17.5:420',
  '--flash', '27.5:5000', '--hiss', '66', '--rain', '40', '--rain-drops', '48', '--rain-from', '20']);
let failed = 0;
try {
  const core = await Core.open(readFileSync(wasm).toString('base64'));
  assert.ok(core, 'the core does not start');
  const { rate, channels } = readWave(storm);
  let same = 0;
  let heardIn;
  for (const lines of settings) {
    core.settings(lines);
    const start = performance.now();
    core.listen(rate, channels);
    heardIn = performance.now() - start;
    for (const rig of rigs) {
      core.rig(rig ? readFileSync(rig, 'utf8') : '');
      core.cue();
      const words = lines.split('\n').filter(Boolean).flatMap((line) => {
        const [name, value] = line.split(' = ');
        return value === 'on' ? [`--${name}`] : [`--${name}`, value];
      });
      const done = spawnSync(program, ['cue', storm, '--out', work, '--force', '--quiet', '--no-preview', ...(rig ? ['--rig', rig] : []), ...words], { encoding: 'utf8' });
      assert.ok(done.status <= 1, done.stderr);
      for (const name of ['events', 'frames', 'ramps']) {
        const want = readFileSync(path.join(work, `storm.${name}.csv`));
        assert.ok(Buffer.from(core.bytes(name)).equals(want), `${name}.csv differs, ${rig || 'built-in rig'}, ${JSON.stringify(lines)}`);
        same++;
      }
    }
  }
  console.log(`[       OK ] the library as WebAssembly writes the program's bytes (${same} files; 33 s of storm heard in ${Math.round(heardIn)} ms)`);
} catch (problem) {
  failed = 1;
  console.log(`[  FAILED  ] the library as WebAssembly writes the program's bytes\n${problem.stack}`);
}
rmSync(work, { recursive: true, force: true });
process.exitCode = failed;
