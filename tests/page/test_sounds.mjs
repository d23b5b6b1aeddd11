// What the page reads of sound files, beside what the program's reader (libsndfile) makes of them: uncompressed sound and
// FLAC to the sample and so with the same events to the byte, Ogg and MP3 within the rounding of another decoder.
//
//   node tests/page/test_sounds.mjs PROGRAM FOLDER CLOTHES chromium|firefox BROWSER
//
// CLOTHES writes a recording as another kind of file, or as the raw samples that libsndfile reads of it.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import path from 'node:path';
import { pathToFileURL } from 'node:url';
import { Firefox } from './firefox.mjs';
import { writeStorm } from './storm.mjs';

const [program, folder, clothes] = process.argv.slice(2, 5).map((name) => path.resolve(name));
const [kind, browser] = process.argv.slice(5);
const work = path.join(folder, `sounds-${kind}`);
const page = pathToFileURL(path.resolve('build/thundercue.html')).href;
const CRACKS = [0.7, 1.9];

// Runs in the page: what it reads of a file, interleaved, as {rate, count, samples} with base64 in it.
const READ = `(async (text) => {
  const { rate, channels } = await readSound(bytesOf(text).buffer);
  const all = new Float32Array(channels.length * channels[0].length);
  channels.forEach((samples, c) => samples.forEach((x, i) => (all[i * channels.length + c] = x)));
  return { rate, count: channels.length, samples: base64Of(new Uint8Array(all.buffer)).replaceAll("\\n", "") };
})`;

async function openPage() {
  if (kind === 'firefox') {
    const firefox = await Firefox.start(browser, work, 40000 + (process.pid % 20000));
    await firefox.open(page);
    return { read: (text) => firefox.run(`return ${READ}(arguments[0]);`, text), close: () => new Promise((done) => {
      firefox.process.once('exit', done);
      firefox.stop();
    }) };
  }
  const { chromium } = createRequire(path.join(folder, 'x.js'))('playwright-core');
  const opened = await chromium.launch({ executablePath: browser, args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'] });
  const view = await opened.newPage();
  await view.goto(page);
  return { read: (text) => view.evaluate(`${READ}(${JSON.stringify(text)})`), close: () => opened.close() };
}

const source = ['words.js', 'core.js'].map((name) => readFileSync(`src/page/${name}`, 'utf8')).join('\n');
const Core = new Function(`"use strict";${source}; return Core;`)();

const LOSSLESS = ['wav-8', 'wav-16', 'wav-24', 'wav-32', 'wav-float', 'wav-double', 'wav-ulaw', 'wav-alaw', 'wavex-24', 'rf64-16', 'aiff-16', 'aiff-24',
  'flac-8', 'flac-16', 'flac-24'];
const LOSSY = ['ogg', 'mp3', 'mp3-vbr'];
// [rate, channels, kinds]: one rate has them all.
const CASES = [[44100, 2, [...LOSSLESS, ...LOSSY]], [48000, 1, ['opus', 'flac-16', 'mp3']], [16000, 1, ['opus', 'mp3']],
  ...[8000, 11025, 22050, 32000, 88200, 96000].map((rate) => [rate, 1, ['flac-16', 'flac-24', 'ogg']]),
  [192000, 1, ['wav-24', 'flac-24']], [44100, 6, ['wavex-24', 'flac-16', 'ogg']]];

const timesOf = (csv) => csv.split('\r\n').filter((row) => row.startsWith('crack')).map((row) => Number(row.split(',')[1]));
const put = (input, output, what) => execFileSync(clothes, [input, output, what]);

let failed = 0;
let same = 0;
let most = { error: 0, late: 0 };
let door;
try {
  rmSync(work, { recursive: true, force: true });
  mkdirSync(work, { recursive: true });
  door = await openPage();
  const core = await Core.open(readFileSync('build/wasm/core.wasm').toString('base64'));
  for (const [rate, channels, kinds] of CASES) {
    const base = path.join(work, 'base.wav');
    writeStorm(base, { seconds: 2.5, cracks: CRACKS, rate, channels });
    // Uncompressed sound is read by the page's own script, alike in every browser.
    for (const what of kinds.filter((one) => kind === 'chromium' || one === 'wav-16' || !/^(wav|aiff|rf64)/.test(one))) {
      const name = `${what} ${rate} Hz ${channels} channels`;
      const file = path.join(work, `sound.${what.split('-')[0].replace(/wavex|rf64/, 'wav')}`);
      put(base, file, what);
      put(file, path.join(work, 'raw'), 'samples');
      const raw = readFileSync(path.join(work, 'raw'));
      const want = new Float32Array(raw.buffer, raw.byteOffset, raw.length / 4);
      const { rate: readRate, count, samples } = await door.read(readFileSync(file).toString('base64'));
      const bytes = Buffer.from(samples, 'base64');
      const have = new Float32Array(bytes.buffer, bytes.byteOffset, bytes.length / 4);
      assert.deepEqual([readRate, count, have.length], [rate, channels, want.length], name);
      core.settings('');
      core.rig('');
      core.listen(rate, Array.from({ length: count }, (_, c) => have.filter((_, i) => i % count === c)));
      core.cue();
      const heard = core.text('events');
      const program_s = execFileSync(program, ['listen', file, '--format', 'csv'], { encoding: 'utf8' });
      assert.ok(timesOf(program_s).length >= CRACKS.length, `${name}: ${program_s}`);
      if (LOSSLESS.includes(what)) {
        assert.equal(have.findIndex((x, i) => x !== want[i]), -1, `${name}: a sample differs`);
        assert.equal(heard, program_s, name);
        same++;
        continue;
      }
      // Another decoder rounds in another way, at most to 16 bits. Vorbis orders the channels of surround sound in its own,
      // and Opus, at less than 48 kHz, is what the browser's own resampler makes of it.
      if (count < 3 && !(what === 'opus' && rate < 48000)) have.forEach((x, i) => (most.error = Math.max(most.error, Math.abs(x - want[i]))));
      assert.ok(most.error < 2 / 32768, `${name}: a sample is ${most.error} away`);
      const [mine, theirs] = [timesOf(heard), timesOf(program_s)];
      assert.equal(mine.length, theirs.length, `${name}: ${heard}${program_s}`);
      mine.forEach((at, i) => (most.late = Math.max(most.late, Math.abs(at - theirs[i]))));
      assert.ok(most.late <= 0.002, `${name}: ${mine} for ${theirs}`);
    }
  }
  console.log(`[       OK ] sound files in ${kind}: ${same} without loss are read to the sample and heard to the byte; Ogg and MP3: ${most.error.toExponential(1)} of full scale apart at most, cracks ${Math.round(1000 * most.late)} ms`);
} catch (problem) {
  failed = 1;
  console.log(`[  FAILED  ] sound files in ${kind}\n${problem.stack}`);
}
if (door) await door.close();
rmSync(work, { recursive: true, force: true });
process.exitCode = failed;
