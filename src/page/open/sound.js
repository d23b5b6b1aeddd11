// A recording's samples, as the program's own reader has them: uncompressed sound is read in plain.js, everything else by
// the browser, at the file's own rate so that nothing is resampled.

// The rate that a file says it has, and the bits of a FLAC sample; where it says nothing, 48 kHz.
function headOf(buffer) {
  const b = new Uint8Array(buffer);
  const word = (at) => String.fromCharCode(...b.subarray(at, at + 4));
  const flac = (at) => ({ rate: (b[at] << 12) | (b[at + 1] << 4) | (b[at + 2] >> 4), bits: (((b[at + 2] & 1) << 4) | (b[at + 3] >> 4)) + 1 });
  if (word(0) === "fLaC") return flac(18);
  if (word(0) === "OggS" && word(29) === "vorb") return { rate: b[40] | (b[41] << 8) | (b[42] << 16) | (b[43] << 24) };
  if (word(0) === "OggS" && word(29) === "FLAC") return flac(55);
  // RFC 7845: Opus decodes at any of these; the first that holds the rate it was made from is enough.
  if (word(0) === "OggS") return { rate: [8000, 12000, 16000, 24000].find((rate) => b[40] + 256 * b[41] + 65536 * b[42] <= rate) || 48000 };
  if (word(0) === "RIFF") return { rate: new DataView(buffer).getUint32(24, true) }; // packed in a way of its own
  if (word(4) === "ftyp") return { rate: mpeg4Rate(b) };
  return { rate: mpegRate(b, word(0).startsWith("ID3") ? 10 + ((b[6] << 21) | (b[7] << 14) | (b[8] << 7) | b[9]) : 0) };
}

// ISO 11172-3, 13818-3: the first frame's head.
function mpegRate(b, from) {
  for (let at = from, end = Math.min(b.length - 4, from + 65536); at < end; at++)
    if (b[at] === 0xff && (b[at + 1] & 0xe6) === 0xe2 && (b[at + 2] & 0x0c) !== 0x0c)
      return [44100, 48000, 32000][(b[at + 2] >> 2) & 3] / { 3: 1, 2: 2, 0: 4 }[(b[at + 1] >> 3) & 3] || 48000;
  return 48000;
}

// ISO 14496-14: the sample entry "mp4a" has it as 16.16 fixed point.
function mpeg4Rate(b) {
  for (let at = 0; at + 32 < b.length; at++)
    if (b[at] === 0x6d && b[at + 1] === 0x70 && b[at + 2] === 0x34 && b[at + 3] === 0x61) return (b[at + 28] << 8) | b[at + 29] || 48000;
  return 48000;
}

// Some browsers scale whole numbers by the greatest positive one, or by that of more bits: put back on the grid that the
// file has.
function onGrid(samples, bits) {
  const full = fullScale(bits);
  let off = 0;
  for (const x of samples) if (x > 0) off = Math.max(off, Math.abs(x * full - Math.round(x * full)));
  const up = off > 0.01 ? full - 1 : full;
  return samples.map((x) => Math.round(x * (x > 0 ? up : full)) / full);
}

// What a player is told of a file in a page.
const SOUND_TYPES = { wav: "audio/wav", wave: "audio/wav", flac: "audio/flac", ogg: "audio/ogg", oga: "audio/ogg", opus: "audio/ogg", mp3: "audio/mpeg" };
const soundType = (file) => SOUND_TYPES[file.name.replace(/^.*\./, "").toLowerCase()] || file.type;

// {rate, channels: [Float32Array]}.
async function readSound(buffer) {
  const plain = readPlain(buffer);
  if (plain) return plain;
  const { rate, bits } = headOf(buffer);
  const sound = await new OfflineAudioContext(1, 1, rate).decodeAudioData(buffer);
  const channels = Array.from({ length: sound.numberOfChannels }, (_, c) => sound.getChannelData(c));
  return { rate: sound.sampleRate, channels: bits <= 24 ? channels.map((samples) => onGrid(samples, bits)) : channels };
}
