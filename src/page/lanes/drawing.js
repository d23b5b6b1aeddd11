// How each lane draws itself: functions of the lanes (their data, view and size), one for each kind of lane.

const INK = {
  screen: { line: "#243044", soft: "#a9b3c4", ink: "#ece7da", wave: "#93a5c4", branch: "#dde8ff", flood: "#8fb0f2",
    crack: "#ffffff", dull: "#86a8f5", stroke: "#f5b85c", rumble: "#5b6cb8", rumbleEdge: "#9aa8ea", flash: "#7f93ba",
    limit: "#f5b85c", over: "#ff8f70", row: "rgba(255,255,255,0.028)" },
  paper: { line: "#c9c9c9", soft: "#444444", ink: "#000000", wave: "#555f70", branch: "#1b2c55", flood: "#4a69ad",
    crack: "#000000", dull: "#44609c", stroke: "#9a5b00", rumble: "#b9c3ea", rumbleEdge: "#5567ad", flash: "#7b879c",
    limit: "#9a5b00", over: "#b3260b", row: "rgba(0,0,0,0.04)" },
};

// From night to white in even steps of brightness.
const HEAT = [[9, 12, 20], [22, 30, 58], [40, 56, 108], [70, 96, 160], [122, 150, 200], [184, 203, 232], [246, 248, 252]];
const BANDS_SHOWN_DB = 66;

function heatColour(x) {
  const at = Math.min(1, Math.max(0, x)) * (HEAT.length - 1);
  const i = Math.min(HEAT.length - 2, Math.floor(at));
  return HEAT[i].map((value, k) => Math.round(value + (HEAT[i + 1][k] - value) * (at - i)));
}

// The band levels as a picture, one pixel a column and band, the highest pitch at the top.
function paintBands(lanes) {
  const { count, hz } = lanes.data.bands;
  const bands = hz.length;
  let top = 0;
  for (const value of lanes.bands) top = Math.max(top, value);
  lanes.bandTop = top;
  if (!count || !bands) return;
  const picture = newCanvas(count, bands);
  const pen = picture.getContext("2d");
  const image = pen.createImageData(count, bands);
  const shades = Array.from({ length: 256 }, (_, value) => heatColour(1 - (top - value) / 2 / BANDS_SHOWN_DB));
  for (let column = 0; column < count; column++)
    for (let band = 0; band < bands; band++) {
      const [r, g, b] = shades[lanes.bands[column * bands + band]];
      image.data.set([r, g, b, 255], 4 * ((bands - 1 - band) * count + column));
    }
  pen.putImageData(image, 0, 0);
  lanes.bandPicture = picture;
  document.getElementById("band-range").textContent = `${hertzText(hz[0])} to ${hertzText(hz[bands - 1])}`;
}

function tickStep(from, to, width, room) {
  const wanted = ((to - from) * room) / width;
  const steps = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
  return steps.find((step) => step >= wanted) || 14400;
}

// Ticks are round numbers of the time that is shown, start_s included.
function roundTicks(lanes, room = 84) {
  const { from, to } = lanes.view;
  const shift = lanes.data.start_s || 0;
  const step = tickStep(from, to, lanes.plot, room);
  const ticks = [];
  for (let k = Math.ceil((from + shift) / step - 1e-9); k * step <= to + shift + 1e-9; k++) ticks.push(k * step - shift);
  return { step, ticks };
}

function drawGrid(lanes, pen, height) {
  pen.fillStyle = lanes.ink.line;
  for (const tick of roundTicks(lanes).ticks) pen.fillRect(Math.round(lanes.x(tick)), 0, 1 / lanes.ratio, height);
}

function drawAxis(lanes, pen, width, height) {
  const { step, ticks } = roundTicks(lanes);
  const shift = lanes.data.start_s || 0;
  const places = step < 0.1 ? 2 : step < 1 ? 1 : 0;
  pen.font = "12px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
  pen.fillStyle = lanes.ink.soft;
  pen.textBaseline = "middle";
  for (const tick of ticks) {
    const x = lanes.x(tick);
    const text = timeText(tick + shift, places);
    const wide = pen.measureText(text).width;
    pen.fillRect(Math.round(x), height - 5, 1, 5);
    pen.fillText(text, Math.max(0, Math.min(width - wide, x - wide / 2)), height / 2 - 2);
  }
}

// Largest waveform peak between two times of the sound, 0..1.
function peakIn(lanes, from, to) {
  const { count, seconds_each: each } = lanes.data.wave;
  if (to <= 0) return 0;
  const a = Math.max(0, Math.floor(from / each));
  const b = Math.min(count - 1, Math.max(a, Math.ceil(to / each) - 1));
  let most = 0;
  for (let c = a; c <= b; c++) most = Math.max(most, lanes.peak[c]);
  return most / 255;
}

function waveShape(lanes, pen, from, to, width, height, colour) {
  const dots = Math.round(width * lanes.ratio);
  const each = (to - from) / dots;
  const middle = height / 2;
  pen.fillStyle = colour;
  pen.beginPath();
  for (let x = 0; x < dots; x++) {
    const t = from + x * each - lanes.offset;
    const half = Math.max(0.35, peakIn(lanes, t, t + each) * (middle - 2));
    pen.rect(x / lanes.ratio, middle - half, 1 / lanes.ratio, 2 * half);
  }
  pen.fill();
}

function drawWave(lanes, pen, width, height) {
  waveShape(lanes, pen, lanes.view.from, lanes.view.to, width, height, lanes.ink.wave);
}

// The clips of an evening, near ones taller; it has no waveform of its own.
function drawTurns(lanes, pen, width, height) {
  const { turns, files } = lanes.data.night;
  pen.fillStyle = lanes.ink === INK.paper ? "#999" : "#43526d";
  for (const [start, end, file] of turns) {
    const tall = Math.round(height * (0.22 + 0.004 * files[file][1]));
    pen.fillRect(((start + lanes.offset) / lanes.end) * width, height - tall, Math.max(1, ((end - start) / lanes.end) * width), tall);
  }
}

function drawOverview(lanes, pen, width, height) {
  if (lanes.data.night) drawTurns(lanes, pen, width, height);
  waveShape(lanes, pen, 0, lanes.end, width, height, lanes.ink.line === "#243044" ? "#43526d" : "#999");
  pen.fillStyle = lanes.ink.stroke;
  let lastX = -9;
  for (const stroke of lanes.data.strokes) {
    const x = Math.round((stroke / lanes.end) * width);
    if (x === lastX) continue;
    lastX = x;
    pen.fillRect(x, height - 4, 1, 4);
  }
  const a = (lanes.view.from / lanes.end) * width;
  const b = Math.max(a + 6, (lanes.view.to / lanes.end) * width);
  pen.fillStyle = "rgba(10,13,20,0.62)";
  if (lanes.view.to - lanes.view.from < lanes.end - 1e-9) {
    pen.fillRect(0, 0, a, height);
    pen.fillRect(b, 0, width - b, height);
  }
  pen.strokeStyle = lanes.ink.soft;
  pen.lineWidth = 1;
  pen.strokeRect(Math.max(0.5, a + 0.5), 0.5, Math.min(width - 1, b - a - 1), height - 1);
}

function drawBands(lanes, pen, width, height) {
  if (!lanes.bandPicture) return;
  const { count, seconds_each: each } = lanes.data.bands;
  const from = (lanes.view.from - lanes.offset) / each;
  const to = (lanes.view.to - lanes.offset) / each;
  const a = Math.max(0, from);
  const b = Math.min(count, to);
  if (b <= a) return;
  const scale = width / (to - from);
  pen.imageSmoothingEnabled = true;
  pen.imageSmoothingQuality = "high";
  pen.drawImage(lanes.bandPicture, a, 0, b - a, lanes.bandPicture.height, (a - from) * scale, 0, (b - a) * scale, height);
  const { hz } = lanes.data.bands;
  const low = Math.log(hz[0]);
  const high = Math.log(hz[hz.length - 1]);
  pen.font = "10px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
  pen.textBaseline = "middle";
  for (const mark of [100, 1000, 10000]) {
    const share = (Math.log(mark) - low) / (high - low);
    if (share < 0.05 || share > 0.95) continue;
    const y = height - (0.5 + share * (hz.length - 1)) * (height / hz.length);
    pen.fillStyle = "rgba(255,255,255,0.16)";
    pen.fillRect(0, y, width, 1 / lanes.ratio);
    pen.fillStyle = "rgba(255,255,255,0.75)";
    pen.fillText(hertzText(mark), 4, y - 6);
  }
}

// The upper part of the lane of events has the cracks, the rest the rumbles.
const CRACKS_SHARE = 0.62;

function drawEvents(lanes, pen, width, height) {
  const half = height * CRACKS_SHARE;
  for (const rumble of lanes.rumbles) {
    const a = lanes.x(rumble.start_s + lanes.offset);
    const b = Math.max(a + 2, lanes.x(rumble.end_s + lanes.offset));
    if (b < 0 || a > width) continue;
    const tall = (height - half - 6) * (0.45 + 0.55 * rumble.strength);
    const left = Math.max(-4, a);
    const right = Math.min(width + 4, b);
    pen.fillStyle = lanes.ink.rumble;
    pen.beginPath();
    pen.roundRect(left, height - 3 - tall, right - left, tall, Math.min(4, tall / 2, (right - left) / 2));
    pen.fill();
    pen.strokeStyle = lanes.ink.rumbleEdge;
    pen.lineWidth = 1;
    pen.stroke();
  }
  pen.fillStyle = lanes.ink.stroke;
  let lastX = -9;
  for (const stroke of lanes.data.strokes) {
    const x = lanes.x(stroke);
    if (x < -3 || x > width + 3 || x - lastX < 0.7) continue;
    lastX = x;
    pen.beginPath();
    pen.moveTo(x - 2.6, 1);
    pen.lineTo(x + 2.6, 1);
    pen.lineTo(x, 6);
    pen.fill();
  }
  if (lanes.inHand) {
    const left = lanes.x(lanes.inHand.start_s + lanes.offset);
    const right = Math.max(left, lanes.x(lanes.inHand.end_s + lanes.offset));
    pen.fillStyle = "rgba(245,184,92,0.28)";
    pen.fillRect(left - 5, 0, right - left + 10, height);
  }
  for (const crack of lanes.cracks) {
    const x = lanes.x(crack.start_s + lanes.offset);
    if (x < -4 || x > width + 4) continue;
    const top = 8 + (half - 14) * (1 - crack.strength);
    pen.fillStyle = crack.sharpness >= 0.5 ? lanes.ink.crack : lanes.ink.dull;
    pen.fillRect(x - 0.75, top, 1.5, half - top);
    if (lanes.unlit.has(crack)) {
      pen.strokeStyle = lanes.ink.over;
      pen.lineWidth = 1.6;
      pen.beginPath();
      pen.moveTo(x - 4, top - 4);
      pen.lineTo(x + 4, top + 4);
      pen.moveTo(x + 4, top - 4);
      pen.lineTo(x - 4, top + 4);
      pen.stroke();
      continue;
    }
    pen.beginPath();
    const size = 2.2 + 1.8 * crack.sharpness;
    pen.moveTo(x, top - size);
    pen.lineTo(x + size, top);
    pen.lineTo(x, top + size);
    pen.lineTo(x - size, top);
    pen.fill();
  }
}

function drawStrips(lanes, pen, width, height) {
  const { channels } = lanes.data.rig;
  const scroll = lanes.scroller.scrollTop;
  const first = Math.floor(scroll / lanes.rowHeight);
  const last = Math.min(channels.length, Math.ceil((scroll + height) / lanes.rowHeight));
  const row = new Float32Array(Math.round(width * lanes.ratio));
  for (let i = first; i < last; i++) {
    const bottom = (i + 1) * lanes.rowHeight - scroll - 1;
    const tall = lanes.rowHeight - 3;
    if (i % 2) {
      pen.fillStyle = lanes.ink.row;
      pen.fillRect(0, bottom + 1 - lanes.rowHeight, width, lanes.rowHeight);
    }
    lanes.timeline.fillRow(row, i, lanes.view.from, lanes.view.to);
    pen.fillStyle = channels[i].kind === "flood" ? lanes.ink.flood : lanes.ink.branch;
    pen.beginPath();
    for (let x = 0; x < row.length; x++) {
      if (row[x] <= 0) continue;
      // Runs of equal height are one rectangle.
      let run = 1;
      while (x + run < row.length && row[x + run] === row[x]) run++;
      const high = Math.max(0.6, screenValue(row[x]) * tall);
      pen.rect(x / lanes.ratio, bottom - high, run / lanes.ratio, high);
      x += run - 1;
    }
    pen.fill();
    pen.fillStyle = lanes.ink.line;
    pen.fillRect(0, bottom, width, 1 / lanes.ratio);
  }
}

function drawFlash(lanes, pen, width, height) {
  const { count, seconds_each: each, limit, peak_count: peak } = lanes.data.flash;
  const top = Math.max(peak, limit || 0, 3) + 0.7;
  const base = height - 2;
  const y = (value) => base - (value / top) * (base - 4);
  const dots = Math.round(width * lanes.ratio);
  const span = (lanes.view.to - lanes.view.from) / dots;
  for (const [colour, over] of [[lanes.ink.flash, false], [lanes.ink.over, true]]) {
    pen.fillStyle = colour;
    pen.beginPath();
    for (let x = 0; x < dots; x++) {
      const a = Math.max(0, Math.floor((lanes.view.from + x * span) / each));
      const b = Math.min(count - 1, Math.max(a, Math.ceil((lanes.view.from + (x + 1) * span) / each) - 1));
      let most = 0;
      for (let c = a; c <= b; c++) most = Math.max(most, lanes.flash[c]);
      if (!most || (limit > 0 && most > limit) !== over) continue;
      pen.rect(x / lanes.ratio, y(most), 1 / lanes.ratio, base - y(most));
    }
    pen.fill();
  }
  pen.fillStyle = lanes.ink.line;
  pen.fillRect(0, base, width, 1);
  if (limit > 0) {
    const line = Math.round(y(limit)) - 0.5;
    pen.strokeStyle = lanes.ink.limit;
    pen.lineWidth = 1.2;
    pen.setLineDash([6, 4]);
    pen.beginPath();
    pen.moveTo(0, line);
    pen.lineTo(width, line);
    pen.stroke();
    pen.setLineDash([]);
    pen.font = "11px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
    pen.textBaseline = "bottom";
    pen.fillStyle = lanes.ink.limit;
    const text = `limit ${limit}`;
    pen.fillText(text, width - pen.measureText(text).width - 4, line - 1);
  }
}

const LANE_DRAWINGS = { overview: drawOverview, axis: drawAxis, wave: drawWave, bands: drawBands, events: drawEvents,
  strips: drawStrips, flash: drawFlash };

function drawLane(lanes, name) {
  const lane = lanes.lanes[name];
  if (!lane.height || !lanes.plot) return;
  const pen = lane.canvas.getContext("2d");
  pen.setTransform(lanes.ratio, 0, 0, lanes.ratio, 0, 0);
  pen.clearRect(0, 0, lanes.plot, lane.height);
  lanes.ink = matchMedia("print").matches ? INK.paper : INK.screen;
  if (name !== "overview" && name !== "axis") drawGrid(lanes, pen, lane.height);
  LANE_DRAWINGS[name](lanes, pen, lanes.plot, lane.height);
}
