// Uncompressed sound in WAV, RF64 and AIFF files, read to the sample as the program's own reader does. Sources: RIFF/WAVE
// and EBU Tech 3306 (RF64), Apple's Audio Interchange File Format 1.3 with its C form, ITU-T G.711 for 8-bit logarithms.

// Of whole numbers with this many bits.
const fullScale = (bits) => 2 ** (bits - 1);

// ITU-T G.711: a byte as a number of 16 bits.
function muLaw(byte) {
  const b = ~byte & 255;
  const size = (((b & 15) << 3) + 132) << ((b & 112) >> 4);
  return b & 128 ? 132 - size : size - 132;
}

function aLaw(byte) {
  const b = byte ^ 85;
  const step = (b & 112) >> 4;
  const size = step ? (((b & 15) << 4) + 264) << (step - 1) : ((b & 15) << 4) + 8;
  return b & 128 ? size : -size;
}

// How a sample at a byte is read: {bytes, at}; null for what is not known here.
function sampleReader(view, kind, bits, little) {
  const whole = {
    8: (at) => (kind === "offset" ? view.getUint8(at) - 128 : view.getInt8(at)),
    16: (at) => view.getInt16(at, little),
    24: (at) => (little ? view.getUint16(at, true) + 65536 * view.getInt8(at + 2) : 256 * view.getInt16(at) + view.getUint8(at + 2)),
    32: (at) => view.getInt32(at, little),
  };
  if ((kind === "whole" || kind === "offset") && whole[bits]) {
    const [read, full] = [whole[bits], fullScale(bits)];
    return { bytes: bits / 8, at: (at) => read(at) / full };
  }
  if (kind === "float" && bits === 32) return { bytes: 4, at: (at) => view.getFloat32(at, little) };
  if (kind === "float" && bits === 64) return { bytes: 8, at: (at) => view.getFloat64(at, little) };
  if (kind === "mu-law") return { bytes: 1, at: (at) => muLaw(view.getUint8(at)) / 32768 };
  if (kind === "A-law") return { bytes: 1, at: (at) => aLaw(view.getUint8(at)) / 32768 };
  return null;
}

function plainSamples(view, { kind, bits, little, count, rate }, from, size) {
  const reader = sampleReader(view, kind, bits, little);
  if (!reader || !count || !rate) return null;
  const { bytes, at } = reader;
  const frames = Math.floor(size / bytes / count);
  return { rate, channels: Array.from({ length: count }, (_, c) => {
    const samples = new Float32Array(frames);
    for (let i = 0; i < frames; i++) samples[i] = at(from + (i * count + c) * bytes);
    return samples;
  }) };
}

const WAVE_KINDS = { 1: "whole", 3: "float", 6: "A-law", 7: "mu-law" };

function waveForm(view, at) {
  const tag = view.getUint16(at, true);
  const bits = view.getUint16(at + 14, true);
  const kind = WAVE_KINDS[tag === 0xfffe ? view.getUint16(at + 24, true) : tag];
  return { kind: kind === "whole" && bits === 8 ? "offset" : kind, bits, little: true, count: view.getUint16(at + 2, true), rate: view.getUint32(at + 4, true) };
}

// A number of 80 bits (IEEE 754 extended) as AIFF has its rate: rates are whole or nearly.
const extended = (view, at) => (view.getUint32(at + 2) * 4294967296 + view.getUint32(at + 6)) * 2 ** ((view.getUint16(at) & 32767) - 16383 - 63);

const AIFC_KINDS = { NONE: ["whole"], twos: ["whole"], sowt: ["whole", true], fl32: ["float"], FL32: ["float"], fl64: ["float"], FL64: ["float"],
  ulaw: ["mu-law"], ULAW: ["mu-law"], alaw: ["A-law"], ALAW: ["A-law"] };

function aiffForm(view, at, word, packed) {
  const [kind, little = false] = AIFC_KINDS[packed ? word(at + 18) : "NONE"] || [null];
  return { kind, bits: view.getUint16(at + 6), little, count: view.getUint16(at), rate: extended(view, at + 8) };
}

// {rate, channels: [Float32Array]} of a file of uncompressed sound; null for anything else.
function readPlain(buffer) {
  const view = new DataView(buffer);
  const word = (at) => String.fromCharCode(...new Uint8Array(buffer, at, 4));
  if (buffer.byteLength < 44) return null;
  const wave = (word(0) === "RIFF" || word(0) === "RF64") && word(8) === "WAVE";
  const aiff = word(0) === "FORM" && /AIF[FC]/.test(word(8));
  if (!wave && !aiff) return null;
  let form = null;
  for (let at = 12; at + 8 <= buffer.byteLength; ) {
    const [name, size, rest] = [word(at), view.getUint32(at + 4, wave), buffer.byteLength - at - 8];
    if (name === "fmt " && wave && rest >= 16) form = waveForm(view, at + 8);
    if (name === "COMM" && aiff && rest >= 18) form = aiffForm(view, at + 8, word, word(8) === "AIFC");
    // A size that was never filled in, or that doesn't fit into its field, is that of what is there.
    if (name === "data" && form) return plainSamples(view, form, at + 8, Math.min(size || rest, rest));
    if (name === "SSND" && form) return plainSamples(view, form, at + 16 + view.getUint32(at + 8), Math.min((size || rest) - 8, rest - 8));
    at += 8 + size + (size & 1);
  }
  return null;
}
