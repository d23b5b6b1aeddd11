// Makes recordings whose cracks are where we put them, so that the tests know the truth without asking the program:
// bursts of noise with a hard start that die away over low rolling noise, with silence before and between.
import { openSync, writeSync, closeSync } from 'node:fs';

// Numerical Recipes' 32-bit congruential generator: the same noise every time.
function noise(seed) {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2147483648 - 1;
  };
}

function waveHeader(rate, channels, frames) {
  const bytes = frames * channels * 2;
  const head = Buffer.alloc(44);
  head.write('RIFF', 0);
  head.writeUInt32LE(36 + bytes, 4);
  head.write('WAVEfmt ', 8);
  head.writeUInt32LE(16, 16);
  head.writeUInt16LE(1, 20);
  head.writeUInt16LE(channels, 22);
  head.writeUInt32LE(rate, 24);
  head.writeUInt32LE(rate * channels * 2, 28);
  head.writeUInt16LE(channels * 2, 32);
  head.writeUInt16LE(16, 34);
  head.write('data', 36);
  head.writeUInt32LE(bytes, 40);
  return head;
}

// A WAV file of `seconds` with a crack at each of `cracks` (seconds); written in blocks, so that hours are no trouble.
export function writeStorm(path, { seconds, cracks, rate = 44100, channels = 1 }) {
  const file = openSync(path, 'w');
  const frames = Math.round(seconds * rate);
  const random = noise(7);
  const block = 65536;
  const starts = cracks.map((at) => Math.round(at * rate));
  const slow = Math.exp(-2 * Math.PI * 120 / rate);
  writeSync(file, waveHeader(rate, channels, frames));
  let next = 0;
  let age = Infinity;
  let low = 0;
  for (let from = 0; from < frames; from += block) {
    const count = Math.min(block, frames - from);
    const samples = new Int16Array(count * channels);
    for (let i = 0; i < count; i++) {
      if (next < starts.length && from + i >= starts[next]) {
        next++;
        age = 0;
      }
      const t = age / rate;
      if (t < 2.5) {
        const hiss = random();
        low = slow * low + (1 - slow) * random() * 8;
        const fade = Math.min(1, (2.5 - t) * 4);
        const value = fade * (0.6 * hiss * Math.exp(-t / 0.05) + 0.35 * low * Math.exp(-t / 0.9));
        for (let c = 0; c < channels; c++) samples[i * channels + c] = Math.max(-32767, Math.min(32767, value * 26000));
      }
      age++;
    }
    writeSync(file, Buffer.from(samples.buffer));
  }
  closeSync(file);
}
