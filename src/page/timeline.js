// Light over time, from the very ramps that were written.
//
// A ramp takes one channel's level in a straight line from start_level at start_frame to end_level at end_frame;
// between ramps the channel holds its last end level, before the first it is at 0. Level is what the dimmer is told,
// light is what comes out: nothing below min_level, then the lamp's curve up to max_level.
//
// Times here are seconds from the start of the timeline, light is 0..1, levels are 0..1 of full.

const CURVES = {
  linear: (x) => x,
  square: (x) => x * x,
  // CIE 1976 lightness turned back into luminance.
  lstar: (x) => (100 * x <= 8 ? (100 * x) / 903.2963 : ((100 * x + 16) / 116) ** 3),
};

function lightOfLevel(channel, level) {
  const percent = level * 100;
  const span = channel.max_level - channel.min_level;
  if (percent <= 0 || percent < channel.min_level || span <= 0) return 0;
  return CURVES[channel.curve](Math.min(1, (percent - channel.min_level) / span));
}

// Packed ramps are sorted by start; each is a run of variable-length numbers (7 bits a byte, low bits first):
//   start_frame less the start_frame of the ramp before · end_frame less start_frame ·
//   2 x channel index + (1 if start_level follows, 0 if the ramp starts from the level the channel holds) ·
//   [start_level] · end_level
// Unpacked they lie channel by channel, so that one channel's story is one stretch of the arrays.
function unpackRamps(bytes, count, channelCount, full) {
  let at = 0;
  const next = () => {
    let value = 0;
    for (let scale = 1; ; scale *= 128) {
      const byte = bytes[at++];
      value += (byte & 127) * scale;
      if (byte < 128 || byte === undefined) return value;
    }
  };
  const held = new Uint16Array(channelCount);
  const inOrder = { start: new Uint32Array(count), end: new Uint32Array(count), channel: new Uint16Array(count),
    from: new Uint16Array(count), to: new Uint16Array(count) };
  const first = new Uint32Array(channelCount + 1);
  for (let i = 0, frame = 0; i < count; i++) {
    frame += next();
    inOrder.start[i] = frame;
    inOrder.end[i] = frame + next();
    const mark = next();
    const channel = Math.floor(mark / 2);
    inOrder.channel[i] = channel;
    inOrder.from[i] = mark % 2 ? next() : held[channel];
    inOrder.to[i] = held[channel] = next();
    first[channel + 1]++;
  }
  for (let c = 0; c < channelCount; c++) first[c + 1] += first[c];
  const place = first.slice();
  const ramps = { first, start: new Uint32Array(count), end: new Uint32Array(count), from: new Float32Array(count),
    to: new Float32Array(count) };
  for (let i = 0; i < count; i++) {
    const k = place[inOrder.channel[i]]++;
    ramps.start[k] = inOrder.start[i];
    ramps.end[k] = inOrder.end[i];
    ramps.from[k] = inOrder.from[i] / full;
    ramps.to[k] = inOrder.to[i] / full;
  }
  return ramps;
}

class Timeline {
  constructor(data) {
    this.channels = data.rig.channels;
    this.rate = data.frame_rate;
    this.duration = data.duration_s;
    this.exact = data.ramps.kept;
    this.ramps = this.exact
      ? unpackRamps(bytesOf(data.ramps.packed), data.ramps.count, this.channels.length, data.ramps.full)
      : null;
    this.lightColumns = { count: data.light.count, each: data.light.seconds_each, bytes: bytesOf(data.light.data) };
    const watts = this.channels.reduce((sum, channel) => sum + channel.watts, 0);
    this.weights = this.channels.map((channel) => (watts > 0 ? channel.watts / watts : 1 / this.channels.length));
  }

  // The last ramp of a channel that has started by a frame, or -1 before the first.
  #rampAt(index, frame) {
    const { first, start } = this.ramps;
    let low = first[index];
    let high = first[index + 1];
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (start[middle] <= frame) low = middle + 1;
      else high = middle;
    }
    return low > first[index] ? low - 1 : -1;
  }

  #levelInRamp(k, frame) {
    const { start, end, from, to } = this.ramps;
    if (frame >= end[k]) return to[k];
    return from[k] + (to[k] - from[k]) * ((frame - start[k]) / (end[k] - start[k]));
  }

  // What the dimmer is told, 0..1 of full; null when this page holds columns of light in place of ramps.
  level(index, seconds) {
    if (!this.exact) return null;
    const frame = seconds * this.rate + 1e-6;
    const k = this.#rampAt(index, frame);
    return k < 0 ? 0 : this.#levelInRamp(k, frame);
  }

  light(index, seconds) {
    if (seconds < 0) return 0;
    if (this.exact) return lightOfLevel(this.channels[index], this.level(index, seconds));
    const { count, each, bytes } = this.lightColumns;
    const column = Math.floor(seconds / each + 1e-9);
    return column < count ? bytes[index * count + column] / 255 : 0;
  }

  // The most light between two moments, so that a flash shorter than one screen picture still shows.
  peakLight(index, from, to) {
    if (!this.exact) return Math.max(this.light(index, from), this.light(index, to));
    const { first, start } = this.ramps;
    const fromFrame = from * this.rate;
    const toFrame = to * this.rate + 1e-6;
    let most = Math.max(this.level(index, from), this.level(index, to));
    for (let k = this.#rampAt(index, toFrame); k >= first[index] && k >= 0; k--) {
      if (this.ramps.end[k] <= fromFrame) break;
      if (this.ramps.end[k] <= toFrame) most = Math.max(most, this.ramps.to[k]);
      if (start[k] > fromFrame) most = Math.max(most, this.ramps.from[k]);
    }
    return lightOfLevel(this.channels[index], most);
  }

  fillLights(lights, seconds) {
    for (let i = 0; i < lights.length; i++) lights[i] = this.light(i, seconds);
  }

  fillPeaks(lights, from, to) {
    for (let i = 0; i < lights.length; i++) lights[i] = this.peakLight(i, from, to);
  }

  totalLight(seconds) {
    let sum = 0;
    for (let i = 0; i < this.channels.length; i++) sum += this.weights[i] * this.light(i, seconds);
    return sum;
  }

  // Fills row[x] with the most light of a channel within the x-th of row.length equal steps from one time to another.
  fillRow(row, index, from, to) {
    row.fill(0);
    const perSecond = row.length / (to - from);
    if (!this.exact) {
      const { count, each, bytes } = this.lightColumns;
      for (let x = 0; x < row.length; x++) {
        const a = Math.max(0, Math.floor((from + x / perSecond) / each + 1e-9));
        const b = Math.min(count - 1, Math.floor((from + (x + 1) / perSecond) / each - 1e-9));
        for (let c = a; c <= Math.max(a, b) && c < count; c++)
          row[x] = Math.max(row[x], bytes[index * count + c] / 255);
      }
      return;
    }
    const channel = this.channels[index];
    const { first, start, end } = this.ramps;
    const last = first[index + 1];
    const paint = (a, b, levelOf) => {
      const x0 = Math.max(0, Math.floor((a / this.rate - from) * perSecond));
      const x1 = Math.min(row.length - 1, Math.floor((b / this.rate - from) * perSecond));
      for (let x = x0; x <= x1; x++) {
        const left = Math.max(a, (from + x / perSecond) * this.rate);
        const right = Math.min(b, (from + (x + 1) / perSecond) * this.rate);
        const light = lightOfLevel(channel, Math.max(levelOf(left), levelOf(Math.max(left, right))));
        if (light > row[x]) row[x] = light;
      }
    };
    const lastFrame = this.duration * this.rate;
    for (let k = Math.max(first[index], this.#rampAt(index, from * this.rate)); k < last; k++) {
      if (start[k] / this.rate > to) break;
      if (this.ramps.from[k] > 0 || this.ramps.to[k] > 0)
        paint(start[k], end[k], (frame) => (end[k] > start[k] ? this.#levelInRamp(k, frame) : this.ramps.to[k]));
      const until = k + 1 < last ? start[k + 1] : lastFrame;
      if (this.ramps.to[k] > 0 && until > end[k]) paint(end[k], until, () => this.ramps.to[k]);
    }
  }
}
