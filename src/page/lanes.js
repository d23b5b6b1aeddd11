// The lanes: the whole storm on one time axis, one lane above the other.
//
// Each lane has its own canvas and draws itself anew only when the view changes; the playhead is an element on top that
// moves without any drawing. Positions in the sound are shown at the moment at which they are heard, that is offset_s
// after the light's own time.

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

function timeText(seconds, places = 3) {
  const sign = seconds < 0 ? "-" : "";
  const whole = Math.round(Math.abs(seconds) * 10 ** places) / 10 ** places;
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  const rest = (whole % 60).toFixed(places).padStart(places ? places + 3 : 2, "0");
  return hours ? `${sign}${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${sign}${minutes}:${rest}`;
}

function hertzText(hz) {
  return hz >= 995 ? `${(hz / 1000).toFixed(hz >= 9950 ? 0 : 1).replace(/\.0$/, "")} kHz` : `${Math.round(hz)} Hz`;
}

class Lanes {
  // `wants` is told of what the user does: seek(seconds), choose(from, to), mark(channel index or -1).
  constructor(root, data, timeline, end, wants) {
    Object.assign(this, { root, data, timeline, end, wants });
    this.offset = data.sound.offset_s || 0;
    this.view = { from: 0, to: end };
    this.shortest = Math.min(end, Math.max(0.05, 8 / data.frame_rate));
    this.lanes = {};
    for (const lane of root.querySelectorAll(".lane"))
      this.lanes[lane.dataset.lane] = { box: lane, canvas: lane.querySelector("canvas") };
    this.overlay = root.querySelector("#overlay");
    this.head = root.querySelector("#head");
    this.hair = root.querySelector("#hair");
    this.chosen = root.querySelector("#chosen");
    this.tip = root.querySelector("#tip");
    this.scroller = root.querySelector("#strip-scroller");
    this.cracks = data.events.filter((event) => event.kind === "crack");
    this.rumbles = data.events.filter((event) => event.kind === "rumble");
    this.peak = bytesOf(data.wave.peak);
    this.bands = bytesOf(data.bands.data);
    this.flash = bytesOf(data.flash.data);
    this.#paintBands();
    this.#buildStrips();
    this.#listen();
  }

  // The band levels as a picture, one pixel a column and band, the highest pitch at the top.
  #paintBands() {
    const { count, hz } = this.data.bands;
    const bands = hz.length;
    let top = 0;
    for (const value of this.bands) top = Math.max(top, value);
    this.bandTop = top;
    if (!count || !bands) return;
    const picture = newCanvas(count, bands);
    const pen = picture.getContext("2d");
    const image = pen.createImageData(count, bands);
    const shades = Array.from({ length: 256 }, (_, value) => heatColour(1 - (top - value) / 2 / BANDS_SHOWN_DB));
    for (let column = 0; column < count; column++)
      for (let band = 0; band < bands; band++) {
        const [r, g, b] = shades[this.bands[column * bands + band]];
        image.data.set([r, g, b, 255], 4 * ((bands - 1 - band) * count + column));
      }
    pen.putImageData(image, 0, 0);
    this.bandPicture = picture;
    document.getElementById("band-range").textContent = `${hertzText(hz[0])} to ${hertzText(hz[bands - 1])}`;
  }

  #buildStrips() {
    const { channels } = this.data.rig;
    this.rowHeight = channels.length <= 20 ? 20 : channels.length <= 48 ? 16 : 14;
    const labels = this.root.querySelector("#strip-labels");
    labels.style.setProperty("--row", `${this.rowHeight}px`);
    const parts = document.createDocumentFragment();
    channels.forEach((channel, i) => {
      const row = document.createElement("div");
      row.className = `strip-label ${channel.kind}`;
      row.dataset.index = i;
      const number = document.createElement("b");
      number.textContent = channel.number;
      const name = document.createElement("bdi");
      name.className = "name";
      name.textContent = shownText(channel.name);
      row.append(number, name);
      row.title = `${channel.number}: ${plainText(channel.name)}`;
      parts.append(row);
    });
    labels.append(parts);
    this.strips = channels.length * this.rowHeight;
    this.scroller.style.height = `${Math.min(this.strips, 20 * 20)}px`;
    labels.style.height = `${this.strips}px`;
    this.scroller.addEventListener("scroll", () => this.#draw("strips"), { passive: true });
    labels.addEventListener("pointerover", (event) => {
      const row = event.target.closest(".strip-label");
      if (row) this.wants.mark(Number(row.dataset.index));
    });
    labels.addEventListener("pointerleave", () => this.wants.mark(-1));
  }

  // ---- the view ----

  resize() {
    const style = getComputedStyle(this.root);
    this.gutter = parseFloat(style.getPropertyValue("--gutter"));
    const margin = parseFloat(style.getPropertyValue("--margin"));
    const stack = this.root.querySelector("#lane-stack");
    this.plot = Math.max(40, Math.floor(stack.clientWidth - this.gutter - margin));
    this.ratio = Math.min(2, window.devicePixelRatio || 1);
    for (const [name, lane] of Object.entries(this.lanes)) {
      if (lane.box.hidden) continue;
      const height = name === "strips" ? this.scroller.clientHeight : lane.box.clientHeight;
      lane.height = height;
      lane.canvas.style.width = `${this.plot}px`;
      lane.canvas.style.height = `${height}px`;
      lane.canvas.width = Math.round(this.plot * this.ratio);
      lane.canvas.height = Math.max(1, Math.round(height * this.ratio));
    }
    this.overlay.style.left = `${this.gutter}px`;
    this.overlay.style.width = `${this.plot}px`;
    this.drawAll();
  }

  setView(from, to) {
    const span = Math.min(this.end, Math.max(this.shortest, to - from));
    const start = Math.min(this.end - span, Math.max(0, from));
    this.view = { from: start, to: start + span };
    this.drawAll();
  }

  zoom(factor, around = (this.view.from + this.view.to) / 2) {
    const { from, to } = this.view;
    const span = Math.min(this.end, Math.max(this.shortest, (to - from) * factor));
    const share = (around - from) / (to - from);
    this.setView(around - share * span, around + (1 - share) * span);
  }

  // Turns the page of the view when the playhead leaves it.
  follow(seconds) {
    const { from, to } = this.view;
    if (seconds >= from && seconds < to) return;
    const span = to - from;
    if (span >= this.end) return;
    this.setView(seconds - span * 0.08, seconds + span * 0.92);
  }

  x(seconds) {
    return ((seconds - this.view.from) / (this.view.to - this.view.from)) * this.plot;
  }

  seconds(x) {
    return this.view.from + (x / this.plot) * (this.view.to - this.view.from);
  }

  showHead(seconds) {
    this.headAt = seconds;
    const x = this.x(seconds);
    this.head.style.visibility = x < -1 || x > this.plot + 1 ? "hidden" : "visible";
    this.head.style.transform = `translateX(${x}px)`;
  }

  showChosen(loop) {
    this.loop = loop;
    this.chosen.hidden = !loop;
    if (!loop) return;
    const a = Math.max(0, this.x(loop.from));
    const b = Math.min(this.plot, this.x(loop.to));
    this.chosen.hidden = b <= a;
    this.chosen.style.left = `${a}px`;
    this.chosen.style.width = `${Math.max(0, b - a)}px`;
  }

  // ---- drawing ----

  drawAll() {
    if (!this.plot) return;
    for (const name of Object.keys(this.lanes)) this.#draw(name);
    this.showHead(this.headAt || 0);
    this.showChosen(this.loop);
  }

  #draw(name) {
    const lane = this.lanes[name];
    if (!lane.height || !this.plot) return;
    const pen = lane.canvas.getContext("2d");
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    pen.clearRect(0, 0, this.plot, lane.height);
    this.ink = matchMedia("print").matches ? INK.paper : INK.screen;
    const drawings = { overview: this.#drawOverview, axis: this.#drawAxis, wave: this.#drawWave, bands: this.#drawBands,
      events: this.#drawEvents, strips: this.#drawStrips, flash: this.#drawFlash };
    if (name !== "overview" && name !== "axis") this.#drawGrid(pen, lane.height);
    drawings[name].call(this, pen, this.plot, lane.height);
  }

  #tickStep(from, to, width, room) {
    const wanted = ((to - from) * room) / width;
    const steps = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
    return steps.find((step) => step >= wanted) || 14400;
  }

  // Ticks are round numbers of the time that is shown, start_s included.
  #ticks(room = 84) {
    const { from, to } = this.view;
    const shift = this.data.start_s || 0;
    const step = this.#tickStep(from, to, this.plot, room);
    const ticks = [];
    for (let k = Math.ceil((from + shift) / step - 1e-9); k * step <= to + shift + 1e-9; k++) ticks.push(k * step - shift);
    return { step, ticks };
  }

  #drawGrid(pen, height) {
    pen.fillStyle = this.ink.line;
    for (const tick of this.#ticks().ticks) pen.fillRect(Math.round(this.x(tick)), 0, 1 / this.ratio, height);
  }

  #drawAxis(pen, width, height) {
    const { step, ticks } = this.#ticks();
    const shift = this.data.start_s || 0;
    const places = step < 0.1 ? 2 : step < 1 ? 1 : 0;
    pen.font = "12px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
    pen.fillStyle = this.ink.soft;
    pen.textBaseline = "middle";
    for (const tick of ticks) {
      const x = this.x(tick);
      const text = timeText(tick + shift, places);
      const wide = pen.measureText(text).width;
      pen.fillRect(Math.round(x), height - 5, 1, 5);
      pen.fillText(text, Math.max(0, Math.min(width - wide, x - wide / 2)), height / 2 - 2);
    }
  }

  // Largest waveform peak between two times of the sound, 0..1.
  #peakIn(from, to) {
    const { count, seconds_each: each } = this.data.wave;
    if (to <= 0) return 0;
    const a = Math.max(0, Math.floor(from / each));
    const b = Math.min(count - 1, Math.max(a, Math.ceil(to / each) - 1));
    let most = 0;
    for (let c = a; c <= b; c++) most = Math.max(most, this.peak[c]);
    return most / 255;
  }

  #waveShape(pen, from, to, width, height, colour) {
    const dots = Math.round(width * this.ratio);
    const each = (to - from) / dots;
    const middle = height / 2;
    pen.fillStyle = colour;
    pen.beginPath();
    for (let x = 0; x < dots; x++) {
      const t = from + x * each - this.offset;
      const half = Math.max(0.35, this.#peakIn(t, t + each) * (middle - 2));
      pen.rect(x / this.ratio, middle - half, 1 / this.ratio, 2 * half);
    }
    pen.fill();
  }

  #drawWave(pen, width, height) {
    this.#waveShape(pen, this.view.from, this.view.to, width, height, this.ink.wave);
  }

  #drawOverview(pen, width, height) {
    this.#waveShape(pen, 0, this.end, width, height, this.ink.line === "#243044" ? "#43526d" : "#999");
    pen.fillStyle = this.ink.stroke;
    let lastX = -9;
    for (const stroke of this.data.strokes) {
      const x = Math.round((stroke / this.end) * width);
      if (x === lastX) continue;
      lastX = x;
      pen.fillRect(x, height - 4, 1, 4);
    }
    const a = (this.view.from / this.end) * width;
    const b = Math.max(a + 6, (this.view.to / this.end) * width);
    pen.fillStyle = "rgba(10,13,20,0.62)";
    if (this.view.to - this.view.from < this.end - 1e-9) {
      pen.fillRect(0, 0, a, height);
      pen.fillRect(b, 0, width - b, height);
    }
    pen.strokeStyle = this.ink.soft;
    pen.lineWidth = 1;
    pen.strokeRect(Math.max(0.5, a + 0.5), 0.5, Math.min(width - 1, b - a - 1), height - 1);
  }

  #drawBands(pen, width, height) {
    if (!this.bandPicture) return;
    const { count, seconds_each: each } = this.data.bands;
    const from = (this.view.from - this.offset) / each;
    const to = (this.view.to - this.offset) / each;
    const a = Math.max(0, from);
    const b = Math.min(count, to);
    if (b <= a) return;
    const scale = width / (to - from);
    pen.imageSmoothingEnabled = true;
    pen.imageSmoothingQuality = "high";
    pen.drawImage(this.bandPicture, a, 0, b - a, this.bandPicture.height, (a - from) * scale, 0, (b - a) * scale, height);
    const { hz } = this.data.bands;
    const low = Math.log(hz[0]);
    const high = Math.log(hz[hz.length - 1]);
    pen.font = "10px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
    pen.textBaseline = "middle";
    for (const mark of [100, 1000, 10000]) {
      const share = (Math.log(mark) - low) / (high - low);
      if (share < 0.05 || share > 0.95) continue;
      const y = height - (0.5 + share * (hz.length - 1)) * (height / hz.length);
      pen.fillStyle = "rgba(255,255,255,0.16)";
      pen.fillRect(0, y, width, 1 / this.ratio);
      pen.fillStyle = "rgba(255,255,255,0.75)";
      pen.fillText(hertzText(mark), 4, y - 6);
    }
  }

  #drawEvents(pen, width, height) {
    const half = height * 0.62;
    for (const rumble of this.rumbles) {
      const a = this.x(rumble.start_s + this.offset);
      const b = Math.max(a + 2, this.x(rumble.end_s + this.offset));
      if (b < 0 || a > width) continue;
      const tall = (height - half - 6) * (0.45 + 0.55 * rumble.strength);
      const left = Math.max(-4, a);
      const right = Math.min(width + 4, b);
      pen.fillStyle = this.ink.rumble;
      pen.beginPath();
      pen.roundRect(left, height - 3 - tall, right - left, tall, Math.min(4, tall / 2, (right - left) / 2));
      pen.fill();
      pen.strokeStyle = this.ink.rumbleEdge;
      pen.lineWidth = 1;
      pen.stroke();
    }
    pen.fillStyle = this.ink.stroke;
    let lastX = -9;
    for (const stroke of this.data.strokes) {
      const x = this.x(stroke);
      if (x < -3 || x > width + 3 || x - lastX < 0.7) continue;
      lastX = x;
      pen.beginPath();
      pen.moveTo(x - 2.6, 1);
      pen.lineTo(x + 2.6, 1);
      pen.lineTo(x, 6);
      pen.fill();
    }
    for (const crack of this.cracks) {
      const x = this.x(crack.start_s + this.offset);
      if (x < -4 || x > width + 4) continue;
      const top = 8 + (half - 14) * (1 - crack.strength);
      pen.fillStyle = crack.sharpness >= 0.5 ? this.ink.crack : this.ink.dull;
      pen.fillRect(x - 0.75, top, 1.5, half - top);
      pen.beginPath();
      const size = 2.2 + 1.8 * crack.sharpness;
      pen.moveTo(x, top - size);
      pen.lineTo(x + size, top);
      pen.lineTo(x, top + size);
      pen.lineTo(x - size, top);
      pen.fill();
    }
  }

  #drawStrips(pen, width, height) {
    const { channels } = this.data.rig;
    const scroll = this.scroller.scrollTop;
    const first = Math.floor(scroll / this.rowHeight);
    const last = Math.min(channels.length, Math.ceil((scroll + height) / this.rowHeight));
    const row = new Float32Array(Math.round(width * this.ratio));
    for (let i = first; i < last; i++) {
      const bottom = (i + 1) * this.rowHeight - scroll - 1;
      const tall = this.rowHeight - 3;
      if (i % 2) {
        pen.fillStyle = this.ink.row;
        pen.fillRect(0, bottom + 1 - this.rowHeight, width, this.rowHeight);
      }
      this.timeline.fillRow(row, i, this.view.from, this.view.to);
      pen.fillStyle = channels[i].kind === "flood" ? this.ink.flood : this.ink.branch;
      pen.beginPath();
      for (let x = 0; x < row.length; x++) {
        if (row[x] <= 0) continue;
        // Runs of equal height are one rectangle.
        let run = 1;
        while (x + run < row.length && row[x + run] === row[x]) run++;
        const high = Math.max(0.6, screenValue(row[x]) * tall);
        pen.rect(x / this.ratio, bottom - high, run / this.ratio, high);
        x += run - 1;
      }
      pen.fill();
      pen.fillStyle = this.ink.line;
      pen.fillRect(0, bottom, width, 1 / this.ratio);
    }
  }

  #drawFlash(pen, width, height) {
    const { count, seconds_each: each, limit, peak_count: peak } = this.data.flash;
    const top = Math.max(peak, limit || 0, 3) + 0.7;
    const base = height - 2;
    const y = (value) => base - (value / top) * (base - 4);
    const dots = Math.round(width * this.ratio);
    const span = (this.view.to - this.view.from) / dots;
    for (const [colour, over] of [[this.ink.flash, false], [this.ink.over, true]]) {
      pen.fillStyle = colour;
      pen.beginPath();
      for (let x = 0; x < dots; x++) {
        const a = Math.max(0, Math.floor((this.view.from + x * span) / each));
        const b = Math.min(count - 1, Math.max(a, Math.ceil((this.view.from + (x + 1) * span) / each) - 1));
        let most = 0;
        for (let c = a; c <= b; c++) most = Math.max(most, this.flash[c]);
        if (!most || (limit > 0 && most > limit) !== over) continue;
        pen.rect(x / this.ratio, y(most), 1 / this.ratio, base - y(most));
      }
      pen.fill();
    }
    pen.fillStyle = this.ink.line;
    pen.fillRect(0, base, width, 1);
    if (limit > 0) {
      const line = Math.round(y(limit)) - 0.5;
      pen.strokeStyle = this.ink.limit;
      pen.lineWidth = 1.2;
      pen.setLineDash([6, 4]);
      pen.beginPath();
      pen.moveTo(0, line);
      pen.lineTo(width, line);
      pen.stroke();
      pen.setLineDash([]);
      pen.font = "11px ui-sans-serif, system-ui, 'Segoe UI', sans-serif";
      pen.textBaseline = "bottom";
      pen.fillStyle = this.ink.limit;
      const text = `limit ${limit}`;
      pen.fillText(text, width - pen.measureText(text).width - 4, line - 1);
    }
  }

  // ---- the pointer ----

  #listen() {
    const stack = this.root.querySelector("#lane-stack");
    const place = (event) => {
      const box = stack.getBoundingClientRect();
      return { x: event.clientX - box.left - this.gutter, y: event.clientY - box.top };
    };
    const laneAt = (event) => {
      const lane = event.target.closest && event.target.closest(".lane");
      return lane ? lane.dataset.lane : null;
    };
    const touches = new Map();
    let drag = null;

    stack.addEventListener("pointerdown", (event) => {
      const { x } = place(event);
      const lane = laneAt(event);
      if (!lane || x < 0 || x > this.plot || event.button !== 0) return;
      touches.set(event.pointerId, event.clientX);
      if (touches.size === 2) {
        const [a, b] = [...touches.values()];
        drag = { kind: "pinch", gap: Math.max(8, Math.abs(a - b)), view: { ...this.view } };
        return;
      }
      if (touches.size > 2) return;
      const kind = lane === "overview" ? "window" : event.pointerType === "touch" ? "pan" : "choose";
      drag = { kind, x, moved: false, view: { ...this.view }, at: this.seconds(x) };
      if (kind === "window") this.#moveWindow(x);
      stack.setPointerCapture(event.pointerId);
    });

    stack.addEventListener("pointermove", (event) => {
      const { x, y } = place(event);
      if (touches.has(event.pointerId)) touches.set(event.pointerId, event.clientX);
      if (!drag) {
        this.#showTip(laneAt(event), x, y, event);
        return;
      }
      if (drag.kind === "pinch") {
        const [a, b] = [...touches.values()];
        const span = drag.view.to - drag.view.from;
        const middle = drag.view.from + span / 2;
        const wide = (span * drag.gap) / Math.max(8, Math.abs(a - b));
        this.setView(middle - wide / 2, middle + wide / 2);
        return;
      }
      if (drag.kind === "window") return this.#moveWindow(x);
      if (Math.abs(x - drag.x) > 4) drag.moved = true;
      if (!drag.moved) return;
      if (drag.kind === "pan") {
        const shift = ((drag.x - x) / this.plot) * (drag.view.to - drag.view.from);
        this.setView(drag.view.from + shift, drag.view.to + shift);
      } else {
        const other = Math.min(this.end, Math.max(0, this.seconds(x)));
        this.showChosen({ from: Math.min(drag.at, other), to: Math.max(drag.at, other) });
      }
      this.#hideTip();
    });

    const finish = (event, cancelled) => {
      touches.delete(event.pointerId);
      if (!drag) return;
      const { x } = place(event);
      if (!cancelled && drag.kind !== "pinch" && drag.kind !== "window") {
        if (!drag.moved) this.wants.seek(this.seconds(drag.x));
        else if (drag.kind === "choose") {
          const other = Math.min(this.end, Math.max(0, this.seconds(x)));
          this.wants.choose(Math.min(drag.at, other), Math.max(drag.at, other));
        }
      }
      if (drag.kind !== "pinch" || touches.size === 0) drag = null;
    };
    stack.addEventListener("pointerup", (event) => finish(event, false));
    stack.addEventListener("pointercancel", (event) => finish(event, true));
    stack.addEventListener("pointerleave", () => this.#hideTip());

    stack.addEventListener("wheel", (event) => {
      const { x } = place(event);
      const around = this.seconds(Math.min(this.plot, Math.max(0, x)));
      if (event.ctrlKey || event.metaKey) {
        event.preventDefault();
        this.zoom(Math.exp(Math.max(-60, Math.min(60, event.deltaY)) * 0.01), around);
      } else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
        event.preventDefault();
        const span = this.view.to - this.view.from;
        const move = ((event.deltaX || event.deltaY) / this.plot) * span;
        this.setView(this.view.from + move, this.view.to + move);
      }
    }, { passive: false });
  }

  #moveWindow(x) {
    const span = this.view.to - this.view.from;
    const middle = (Math.min(this.plot, Math.max(0, x)) / this.plot) * this.end;
    this.setView(middle - span / 2, middle + span / 2);
  }

  #hideTip() {
    this.tip.hidden = true;
    this.hair.hidden = true;
    this.wants.mark(-1);
  }

  #showTip(lane, x, y, event) {
    if (!lane || lane === "overview" || x < 0 || x > this.plot) {
      if (lane !== "strips") this.#hideTip();
      else this.tip.hidden = this.hair.hidden = true;
      return;
    }
    this.hair.hidden = false;
    this.hair.style.transform = `translateX(${x}px)`;
    const t = this.seconds(x);
    const shift = this.data.start_s || 0;
    const lines = [timeText(t + shift)];
    if (lane === "strips") lines.push(...this.#stripWords(t, event));
    else this.wants.mark(-1);
    if (lane === "events") lines.push(...this.#eventWords(x, t));
    if (lane === "bands") lines.push(...this.#bandWords(t, event));
    if (lane === "wave") lines.push(`peak ${Math.round(100 * this.#peakIn(t - this.offset, t - this.offset + 1e-6))} % of full scale`);
    if (lane === "flash") {
      const column = Math.floor(t / this.data.flash.seconds_each);
      lines.push(`${this.flash[column] || 0} in the second before`);
    }
    this.tip.replaceChildren(...lines.map((text, k) => {
      const line = document.createElement(k ? "span" : "b");
      line.textContent = text;
      return line;
    }));
    this.tip.hidden = false;
    const room = this.plot + this.gutter;
    const wide = this.tip.offsetWidth;
    const left = x + this.gutter + 14 + wide > room ? x + this.gutter - 14 - wide : x + this.gutter + 14;
    this.tip.style.left = `${Math.max(4, left)}px`;
    this.tip.style.top = `${y + 14}px`;
  }

  #stripWords(t, event) {
    const box = this.scroller.getBoundingClientRect();
    const index = Math.floor((event.clientY - box.top + this.scroller.scrollTop) / this.rowHeight);
    const channel = this.data.rig.channels[index];
    if (!channel) return [];
    this.wants.mark(index);
    const light = `light ${(100 * this.timeline.light(index, t)).toFixed(1)} %`;
    const level = this.timeline.level(index, t);
    return [`${channel.number} ${plainText(channel.name, 40)}`, level === null ? light : `${light}, level ${(100 * level).toFixed(1)} %`];
  }

  #eventWords(x, t) {
    const near = this.cracks
      .map((crack) => ({ crack, away: Math.abs(this.x(crack.start_s + this.offset) - x) }))
      .filter(({ away }) => away <= 7)
      .sort((a, b) => a.away - b.away)[0];
    const numbers = (event) => `strength ${event.strength.toFixed(2)}, sharpness ${event.sharpness.toFixed(2)}, ${event.level_dbfs.toFixed(1)} dBFS`;
    const shift = (this.data.start_s || 0) + this.offset;
    if (near) return [`crack at ${timeText(near.crack.start_s + shift)}`, numbers(near.crack)];
    const rumble = this.rumbles.find((event) => event.start_s + this.offset <= t && t < event.end_s + this.offset);
    return rumble ? [`rumble ${timeText(rumble.start_s + shift)} to ${timeText(rumble.end_s + shift)}`, numbers(rumble)] : [];
  }

  #bandWords(t, event) {
    const { count, seconds_each: each, hz } = this.data.bands;
    const column = Math.floor((t - this.offset) / each);
    if (column < 0 || column >= count) return [];
    const box = this.lanes.bands.canvas.getBoundingClientRect();
    const band = Math.min(hz.length - 1, Math.max(0, Math.floor((1 - (event.clientY - box.top) / box.height) * hz.length)));
    return [`${hertzText(hz[band])}: ${(this.bands[column * hz.length + band] / 2 - 127.5).toFixed(1)} dBFS`];
  }
}
