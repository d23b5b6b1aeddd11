// A recording's samples, as the program's own reader has them: WAV is read here, everything else by the browser, at the
// file's own rate so that nothing is resampled.

const FULL_SCALE = { 8: 128, 16: 32768, 24: 8388608, 32: 2147483648 };

// {rate, channels: [Float32Array]} of a WAV file in whole numbers or floats; null for anything else.
function readWave(buffer) {
  const view = new DataView(buffer);
  const word = (at) => String.fromCharCode(...new Uint8Array(buffer, at, 4));
  if (buffer.byteLength < 44 || word(0) !== "RIFF" || word(8) !== "WAVE") return null;
  let format = 0;
  for (let at = 12; at + 8 <= buffer.byteLength; ) {
    const size = view.getUint32(at + 4, true);
    if (word(at) === "fmt ") format = at + 8;
    if (word(at) === "data" && format) return waveSamples(view, format, at + 8, Math.min(size, buffer.byteLength - at - 8));
    at += 8 + size + (size & 1);
  }
  return null;
}

function waveSamples(view, format, from, size) {
  let kind = view.getUint16(format, true);
  if (kind === 0xfffe) kind = view.getUint16(format + 24, true);
  const count = view.getUint16(format + 2, true);
  const rate = view.getUint32(format + 4, true);
  const bits = view.getUint16(format + 14, true);
  const bytes = bits / 8;
  const whole = (at) => (bytes === 1 ? view.getUint8(at) - 128 : bytes === 2 ? view.getInt16(at, true)
    : bytes === 3 ? view.getUint16(at, true) + 65536 * view.getInt8(at + 2) : view.getInt32(at, true)) / FULL_SCALE[bits];
  let read = null;
  if (kind === 1 && FULL_SCALE[bits]) read = whole;
  else if (kind === 3 && bits === 32) read = (at) => view.getFloat32(at, true);
  else if (kind === 3 && bits === 64) read = (at) => view.getFloat64(at, true);
  if (!read || !count || !rate) return null;
  const frames = Math.floor(size / bytes / count);
  return { rate, channels: Array.from({ length: count }, (_, c) => {
    const samples = new Float32Array(frames);
    for (let i = 0; i < frames; i++) samples[i] = read(from + (i * count + c) * bytes);
    return samples;
  }) };
}

// The rate that a FLAC, Ogg or MP3 file says it has, and the bits of a FLAC sample; where it says nothing, 48 kHz.
function headOf(buffer) {
  const b = new Uint8Array(buffer, 0, Math.min(buffer.byteLength, 65536));
  const word = (at) => String.fromCharCode(...b.subarray(at, at + 4));
  if (word(0) === "fLaC") return { rate: (b[18] << 12) | (b[19] << 4) | (b[20] >> 4), bits: (((b[20] & 1) << 4) | (b[21] >> 4)) + 1 };
  if (word(0) === "OggS" && word(29) === "vorb") return { rate: b[40] | (b[41] << 8) | (b[42] << 16) | (b[43] << 24) };
  let at = word(0).startsWith("ID3") ? 10 + ((b[6] << 21) | (b[7] << 14) | (b[8] << 7) | b[9]) : 0;
  const all = new Uint8Array(buffer);
  for (const end = Math.min(all.length - 4, at + 65536); at < end; at++)
    if (all[at] === 0xff && (all[at + 1] & 0xe6) === 0xe2 && (all[at + 2] & 0x0c) !== 0x0c) {
      const rate = [44100, 48000, 32000][(all[at + 2] >> 2) & 3];
      return { rate: rate / { 3: 1, 2: 2, 0: 4 }[(all[at + 1] >> 3) & 3] || 48000 };
    }
  return { rate: 48000 };
}

// Some browsers scale whole numbers by the greatest positive one: put back on the grid that the file has.
function onGrid(samples, bits) {
  const full = FULL_SCALE[bits];
  let off = 0;
  for (const x of samples) if (x > 0) off = Math.max(off, Math.abs(x * full - Math.round(x * full)));
  const up = off > 0.01 ? full - 1 : full;
  return samples.map((x) => Math.round(x * (x > 0 ? up : full)) / full);
}

// What a player is told of a file in a page.
const SOUND_TYPES = { wav: "audio/wav", wave: "audio/wav", flac: "audio/flac", ogg: "audio/ogg", oga: "audio/ogg", opus: "audio/ogg", mp3: "audio/mpeg" };
const soundType = (file) => SOUND_TYPES[file.name.replace(/^.*\./, "").toLowerCase()] || file.type;

async function readSound(buffer) {
  const wave = readWave(buffer);
  if (wave) return wave;
  const { rate, bits } = headOf(buffer);
  const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(buffer.slice(0));
  const channels = Array.from({ length: sound.numberOfChannels }, (_, c) => sound.getChannelData(c));
  return { rate: sound.sampleRate, channels: bits === 16 ? channels.map((samples) => onGrid(samples, bits)) : channels };
}
