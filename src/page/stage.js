// The stage: a night sky over a mill pond, with the rig's bolt in the sky and its floods behind the bank.
//
// What never changes (night, clouds, land) is painted once per size. A picture then is: night, the clouds as far as they
// are lit, the glow and the lines of the lit branches, the haze of the floods, the land in front of it all as far as it is
// lit, and the whole of that upside down in the water. Without light nothing is added to the night.

// Linear light to the value a screen is told (sRGB).
function screenValue(light) {
  const x = Math.min(1, Math.max(0, light));
  return x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055;
}

const BRANCH_COLOUR = "226,236,255";
const FLOOD_COLOUR = "150,182,240";
const WATERLINE = 0.795;
const MOST_PIXELS = 3.2e6;
const FEWEST_PIXELS = 0.35e6;
const SLOW_DRAWING_MS = 22;

function newCanvas(width, height) {
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(width));
  canvas.height = Math.max(1, Math.round(height));
  return canvas;
}

// Soft random field with values around 0..1, made of five octaves of smoothed lattice noise.
function cloudField(width, height, seed) {
  const field = new Float32Array(width * height);
  const smooth = (t) => t * t * (3 - 2 * t);
  let size = height * 0.62;
  let weight = 0.5;
  for (let octave = 0; octave < 6; octave++, size /= 2, weight *= 0.53) {
    const random = randomFrom(seed + octave * 7919);
    const columns = Math.ceil(width / size) + 2;
    const rows = Math.ceil((height * 1.7) / size) + 2;
    const lattice = Float32Array.from({ length: columns * rows }, random);
    for (let y = 0; y < height; y++) {
      const v = (y * 1.7) / size;
      const row = Math.floor(v);
      const fy = smooth(v - row);
      for (let x = 0; x < width; x++) {
        const u = x / size;
        const column = Math.floor(u);
        const fx = smooth(u - column);
        const k = row * columns + column;
        const upper = lattice[k] + (lattice[k + 1] - lattice[k]) * fx;
        const lower = lattice[k + columns] + (lattice[k + columns + 1] - lattice[k + columns]) * fx;
        field[y * width + x] += weight * (upper + (lower - upper) * fy);
      }
    }
  }
  return field;
}

// Clouds as shades of grey: thick and ragged at the top, thinning out towards the horizon.
function paintClouds() {
  const width = 320;
  const height = 150;
  const field = cloudField(width, height, 41);
  const canvas = newCanvas(width, height);
  const pen = canvas.getContext("2d");
  const image = pen.createImageData(width, height);
  for (let y = 0; y < height; y++) {
    const depth = y / height;
    const thick = 1 - Math.min(1, Math.max(0, (depth - 0.12) / 0.75));
    for (let x = 0; x < width; x++) {
      const billow = field[y * width + x];
      const body = Math.min(1, Math.max(0, (billow - 0.62 + thick * 0.34) * 3.1));
      const fold = 0.45 + 0.55 * Math.min(1, Math.max(0, (billow - 0.36) * 2.6));
      const value = 255 * Math.min(1, 0.045 + body * fold * (0.35 + 0.65 * thick));
      image.data.set([value * 0.94, value * 0.97, value, 255], 4 * (y * width + x));
    }
  }
  pen.putImageData(image, 0, 0);
  return canvas;
}

// What a flood throws up into the air, brightest at the lamp, as white of varying alpha.
function paintFloodBeam() {
  const width = 128;
  const height = 160;
  const canvas = newCanvas(width, height);
  const pen = canvas.getContext("2d");
  const image = pen.createImageData(width, height);
  for (let y = 0; y < height; y++) {
    const up = 1 - y / (height - 1);
    const spread = 0.16 + 0.34 * up ** 0.9;
    for (let x = 0; x < width; x++) {
      const aside = (x / (width - 1) - 0.5) / spread;
      const value = Math.exp(-2.4 * aside * aside) * (1 - up) ** 1.25 * (0.38 + 0.62 / (1 + 9 * up));
      image.data.set([255, 255, 255, 255 * value], 4 * (y * width + x));
    }
  }
  pen.putImageData(image, 0, 0);
  return canvas;
}

class Stage {
  constructor(canvas, channels) {
    this.canvas = canvas;
    this.channels = channels;
    this.bolt = growBolt(channels);
    this.clouds = paintClouds();
    this.beam = paintFloodBeam();
    this.floods = channels.map((channel, i) => i).filter((i) => channels[i].kind === "flood");
    this.width = 0;
    this.height = 0;
    this.pixels = MOST_PIXELS;
    this.pace = 0;
  }

  // Notes how long a picture took. On a machine that can't keep up the picture gets fewer pixels; true when it did.
  tooSlow(milliseconds) {
    this.pace += 0.1 * (milliseconds - this.pace);
    if (this.pace < SLOW_DRAWING_MS || this.pixels <= FEWEST_PIXELS) return false;
    this.pixels = Math.max(FEWEST_PIXELS, 0.6 * Math.min(this.pixels, this.canvas.width * this.canvas.height));
    this.pace = 0;
    return this.resize();
  }

  // Takes the size of its element; returns false when there is nothing to do.
  resize() {
    const box = this.canvas.getBoundingClientRect();
    const width = Math.round(box.width);
    const height = Math.round(box.height);
    if (width < 2 || height < 2) return false;
    let scale = Math.min(2, window.devicePixelRatio || 1);
    scale = Math.min(scale, Math.sqrt(this.pixels / (width * height)));
    if (width === this.width && height === this.height && scale === this.scale) return false;
    Object.assign(this, { width, height, scale });
    this.canvas.width = Math.round(width * scale);
    this.canvas.height = Math.round(height * scale);
    this.#layOut();
    this.#paintStill();
    return true;
  }

  #sheet(share = 1) {
    const sheet = newCanvas(this.canvas.width * share, this.canvas.height * share);
    const pen = sheet.getContext("2d");
    pen.scale(sheet.width / this.width, sheet.height / this.height);
    return { sheet, pen };
  }

  #layOut() {
    const { width: w, height: h } = this;
    this.water = Math.round(h * WATERLINE);
    const narrow = w < h * 1.15;
    this.millX = narrow ? w * 0.8 : w * 0.775;
    this.millSize = Math.min(h * 0.2, w * 0.2);
    const reach = Math.min(w * (narrow ? 0.36 : 0.31), h * 0.72);
    const middle = narrow ? w * 0.45 : w * 0.44;
    this.lines = fitBolt(this.bolt, { left: middle - reach, right: middle + reach, top: -2, bottom: this.water - h * 0.075 });
    const weight = Math.max(0.8, Math.min(1.7, h / 420));
    const crowd = Math.max(0.55, Math.min(1, 5 / Math.sqrt(this.lines.filter(Boolean).length + 8)));
    this.paths = this.lines.map((line) => {
      if (!line) return null;
      const core = new Path2D();
      line.points.forEach(([x, y], k) => (k ? core.lineTo(x, y) : core.moveTo(x, y)));
      const thick = weight * (0.55 + 0.45 * crowd) * Math.max(1, 2.5 * 0.72 ** line.depth);
      return { core, beads: this.#beads(line.points, 5.5 * weight, 0.62 * weight * (line.depth ? 1 : 1.25)), thick };
    });
    const n = this.floods.length;
    const half = Math.max(h * 0.3, (w / Math.max(2, n)) * 0.95);
    // Where many washes lie over each other, each gives less, so that all of them together still leave a picture.
    const gain = Math.min(1, (2.2 * w) / (n * 2 * half));
    this.floodSpots = this.floods.map((i, k) => ({ i, x: w * (n === 1 ? 0.5 : 0.09 + (0.82 * k) / (n - 1)), half, gain }));
  }

  // The lamps of the string, evenly spaced along the line.
  #beads(points, gap, radius) {
    const beads = new Path2D();
    let left = gap / 2;
    for (let k = 1; k < points.length; k++) {
      const [x0, y0] = points[k - 1];
      const [x1, y1] = points[k];
      const length = Math.hypot(x1 - x0, y1 - y0);
      for (; left <= length; left += gap) {
        const x = x0 + ((x1 - x0) * left) / length;
        const y = y0 + ((y1 - y0) * left) / length;
        beads.moveTo(x + radius, y);
        beads.arc(x, y, radius, 0, 2 * Math.PI);
      }
      left -= length;
    }
    return beads;
  }

  #paintStill() {
    const { width: w, height: h } = this;
    this.night = this.#sheet();
    const sky = this.night.pen.createLinearGradient(0, 0, 0, h);
    sky.addColorStop(0, "#040509");
    sky.addColorStop(0.5, "#070a12");
    sky.addColorStop(WATERLINE, "#0c111c");
    sky.addColorStop(1, "#05070c");
    this.night.pen.fillStyle = sky;
    this.night.pen.fillRect(0, 0, w, h);

    this.land = this.#sheet();
    this.landTone = this.#sheet();
    this.#paintLand(this.land.pen, false);
    this.#paintLand(this.landTone.pen, true);

    this.front = this.#sheet();
    this.#paintFront(this.front.pen);

    this.upper = this.#sheet();
    this.landLit = this.#sheet(0.5);
    this.skyLit = this.#sheet(0.25);
    this.glow = [0.25, 0.125, 0.0625, 0.03125].map((share) => this.#sheet(share));
    this.wash = this.#sheet(0.125);
  }

  // Hills, trees, mill and bank, once as they stand in the dark and once in the tones that light brings out.
  #paintLand(pen, lit) {
    const { width: w, height: h, water } = this;
    const tone = (dark, light) => (lit ? light : dark);
    const random = randomFrom(1907);
    const unit = Math.min(h, w * 0.8);

    const ridge = (base, swell, seed, step = 6) => {
      pen.beginPath();
      pen.moveTo(-10, water + 4);
      for (let x = -10; x <= w + 10; x += step) {
        const u = x / unit;
        const y = base - swell * (0.5 + 0.28 * Math.sin(u * 2.1 + seed) + 0.16 * Math.sin(u * 5.3 + seed * 2) + 0.06 * Math.sin(u * 13 + seed * 3));
        pen.lineTo(x, y);
      }
      pen.lineTo(w + 10, water + 4);
      pen.closePath();
    };
    ridge(water - h * 0.02, h * 0.13, 0.7);
    pen.fillStyle = tone("#080b13", "#20242d");
    pen.fill();
    ridge(water - h * 0.005, h * 0.075, 2.9);
    pen.fillStyle = tone("#06080e", "#2b3033");
    pen.fill();

    // Trees: leafy crowns, thick at the sides of the picture, few in the middle.
    const trees = [];
    const wood = (from, to, tall, count) => {
      for (let k = 0; k < count; k++) {
        const x = from + (to - from) * ((k + random()) / count);
        const edge = Math.abs((x - from) / (to - from) - 0.5) * 2;
        trees.push([x, tall * (0.5 + 0.5 * random()) * (1 - 0.5 * edge ** 2)]);
      }
    };
    wood(w * 0.18, w * 0.37, unit * 0.055, 12);
    wood(w * 0.5, this.millX - this.millSize * 0.5, unit * 0.05, 12);
    wood(-unit * 0.1, w * 0.2, unit * 0.25, 14);
    wood(this.millX + this.millSize * 0.62, w + unit * 0.1, unit * 0.27, 10);
    for (const [x, tall] of trees) this.#paintTree(pen, lit, x, tall, random);
    this.#paintMill(pen, lit);

    // The bank.
    pen.beginPath();
    pen.moveTo(-5, water + 5);
    for (let x = -5; x <= w + 5; x += 8) pen.lineTo(x, water - h * 0.012 - h * 0.006 * Math.sin((x / unit) * 7) - random() * h * 0.004);
    pen.lineTo(w + 5, water + 5);
    pen.closePath();
    pen.fillStyle = tone("#030407", "#4a4d4c");
    pen.fill();
    pen.strokeStyle = tone("#030407", "#585c58");
    pen.lineWidth = 1;
    pen.beginPath();
    for (let x = 0; x < w; x += 3 + random() * 5) {
      const tall = h * (0.006 + 0.016 * random() ** 2);
      pen.moveTo(x, water - h * 0.008);
      pen.quadraticCurveTo(x, water - h * 0.01 - tall * 0.6, x + (random() - 0.5) * tall, water - h * 0.012 - tall);
    }
    pen.stroke();
    pen.globalCompositeOperation = "destination-out";
    pen.fillRect(-10, water, w + 20, h);
    pen.globalCompositeOperation = "source-over";
  }

  // A trunk and a crown of many small leaf masses, fuller below, so that the outline is ragged as leaves are.
  #paintTree(pen, lit, x, tall, random) {
    const { water } = this;
    const wide = tall * 0.42;
    pen.fillStyle = lit ? "#2c2f2b" : "#040508";
    pen.fillRect(x - tall * 0.022, water - tall * 0.4, tall * 0.044, tall * 0.4);
    const masses = 70;
    for (let k = 0; k < masses; k++) {
      const up = (k + random()) / masses;
      const girth = Math.sin(Math.PI * (0.12 + 0.86 * up ** 0.8)) * wide;
      const dx = (random() + random() - 1) * girth;
      const y = water - tall * (0.24 + 0.74 * up);
      const r = tall * (0.035 + 0.05 * random()) * (1.15 - 0.5 * up);
      // Drawn in the dark as well, so that both pictures use the same random numbers and cover each other.
      const shade = 26 + 52 * random() * (1 - 0.45 * up);
      pen.fillStyle = lit ? `rgb(${shade * 0.88},${shade},${shade * 0.9})` : "#040508";
      pen.beginPath();
      pen.ellipse(x + dx, y, r, r * 0.7, random() * 3, 0, 2 * Math.PI);
      pen.fill();
    }
  }

  #paintMill(pen, lit) {
    const { water, millX: x, millSize: s } = this;
    const dark = "#020305";
    const wall = lit ? "#a7a596" : dark;
    const roof = lit ? "#5c5a58" : dark;
    const timber = lit ? "#6d675c" : dark;
    const poly = (colour, ...points) => {
      pen.beginPath();
      points.forEach(([px, py], k) => (k ? pen.lineTo(x + px * s, water - py * s) : pen.moveTo(x + px * s, water - py * s)));
      pen.closePath();
      pen.fillStyle = colour;
      pen.fill();
    };
    // Lean-to, house, gable loft and chimney.
    poly(wall, [-0.62, 0], [-0.62, 0.34], [-0.2, 0.42], [-0.2, 0]);
    poly(roof, [-0.7, 0.32], [-0.2, 0.56], [-0.2, 0.43], [-0.66, 0.28]);
    poly(wall, [-0.3, 0], [-0.3, 0.7], [0.02, 1.02], [0.34, 0.7], [0.34, 0]);
    poly(roof, [-0.4, 0.63], [0.02, 1.1], [0.44, 0.63], [0.36, 0.6], [0.02, 0.98], [-0.32, 0.6]);
    poly(timber, [0.2, 0.86], [0.2, 1.12], [0.29, 1.12], [0.29, 0.76]);
    poly(timber, [-0.03, 1.0], [-0.03, 0.9], [-0.34, 0.9], [-0.34, 0.93], [-0.06, 0.95]);
    if (lit) {
      pen.strokeStyle = "rgba(60,58,52,0.55)";
      pen.lineWidth = Math.max(0.6, s * 0.006);
      pen.beginPath();
      for (let y = 0.06; y < 0.7; y += 0.055) {
        pen.moveTo(x - 0.3 * s, water - y * s);
        pen.lineTo(x + 0.34 * s, water - y * s);
        if (y < 0.36) {
          pen.moveTo(x - 0.62 * s, water - y * s);
          pen.lineTo(x - 0.3 * s, water - y * s);
        }
      }
      pen.stroke();
    }
    const hole = lit ? "#17181a" : "#010203";
    for (const [wx, wy, ww, wh] of [[-0.06, 0.74, 0.15, 0.16], [-0.18, 0.42, 0.12, 0.16], [0.1, 0.42, 0.12, 0.16], [-0.07, 0.02, 0.17, 0.28]]) {
      pen.fillStyle = hole;
      pen.fillRect(x + wx * s, water - (wy + wh) * s, ww * s, wh * s);
    }
    // The wheel, half under water.
    const cx = x + 0.5 * s;
    const cy = water - 0.17 * s;
    const r = 0.27 * s;
    pen.strokeStyle = timber;
    pen.lineWidth = s * 0.034;
    pen.beginPath();
    pen.arc(cx, cy, r, 0, 2 * Math.PI);
    pen.stroke();
    pen.lineWidth = s * 0.016;
    pen.beginPath();
    pen.arc(cx, cy, r * 0.72, 0, 2 * Math.PI);
    for (let k = 0; k < 12; k++) {
      const a = (k * Math.PI) / 6 + 0.12;
      pen.moveTo(cx, cy);
      pen.lineTo(cx + r * Math.cos(a), cy + r * Math.sin(a));
      pen.moveTo(cx + r * Math.cos(a), cy + r * Math.sin(a));
      pen.lineTo(cx + r * 1.17 * Math.cos(a - 0.07), cy + r * 1.17 * Math.sin(a - 0.07));
    }
    pen.stroke();
    poly(timber, [0.34, 0.21], [0.56, 0.19], [0.56, 0.15], [0.34, 0.16]);
  }

  // Reeds and the near bank, in front of the water.
  #paintFront(pen) {
    const { width: w, height: h } = this;
    const random = randomFrom(77);
    pen.fillStyle = "#020306";
    pen.strokeStyle = "#020306";
    pen.beginPath();
    pen.moveTo(-5, h + 5);
    for (let x = -5; x <= w + 5; x += 10) {
      const side = Math.abs(x / w - 0.5) * 2;
      pen.lineTo(x, h - h * (0.006 + 0.05 * side ** 3) - random() * h * 0.006);
    }
    pen.lineTo(w + 5, h + 5);
    pen.fill();
    pen.lineCap = "round";
    for (let k = 0; k < 90; k++) {
      const side = random() < 0.62 ? 0 : 1;
      const away = random() ** 1.7 * 0.2;
      const x = w * (side ? 1 - away : away);
      const tall = h * (0.06 + 0.15 * random()) * (1 - away * 3);
      const lean = (random() - 0.5) * tall * 0.35;
      pen.lineWidth = 0.8 + random() * 1.2;
      pen.beginPath();
      pen.moveTo(x, h);
      pen.quadraticCurveTo(x, h - tall * 0.6, x + lean, h - tall);
      pen.stroke();
      if (k % 4 === 0) {
        pen.beginPath();
        pen.ellipse(x + lean, h - tall, 1.7 + random(), tall * 0.075, lean / tall, 0, 2 * Math.PI);
        pen.fill();
      }
    }
  }

  #lay(pen, sheet) {
    pen.drawImage(sheet, 0, 0, this.width, this.height);
  }

  // Draws the lights (0..1, one per channel) at a display brightness (0..1). `showRig` draws the unlit strings faintly,
  // `marked` is the index of a channel to point out, or -1; `seconds` moves the ripples.
  draw(lights, { brightness = 1, showRig = true, marked = -1, seconds = 0 } = {}) {
    if (!this.width) return;
    const { width: w, height: h, upper } = this;
    const pen = upper.pen;
    pen.globalCompositeOperation = "source-over";
    pen.globalAlpha = 1;
    this.#lay(pen, this.night.sheet);

    let branchLight = 0;
    let floodLight = 0;
    this.channels.forEach((channel, i) => {
      if (channel.kind === "flood") floodLight += lights[i];
      else branchLight += lights[i];
    });
    if (showRig) this.#drawRig(pen);
    if (branchLight + floodLight > 0) {
      this.#gatherGlow(lights, brightness);
      this.#drawSky(pen, lights, brightness, branchLight);
    }
    if (marked >= 0) this.#drawMark(pen, marked, false);
    this.#lay(pen, this.land.sheet);
    if (branchLight + floodLight > 0) this.#drawLandLight(pen, branchLight, brightness);
    this.#drawLamps(pen, lights, brightness, showRig);
    if (marked >= 0) this.#drawMark(pen, marked, true);

    const main = this.canvas.getContext("2d", { alpha: false });
    main.setTransform(this.canvas.width / w, 0, 0, this.canvas.height / h, 0, 0);
    main.globalAlpha = 1;
    this.#lay(main, upper.sheet);
    this.#drawWater(main, seconds);
    this.#lay(main, this.front.sheet);
  }

  #drawRig(pen) {
    pen.lineJoin = "round";
    for (const path of this.paths) {
      if (!path) continue;
      pen.strokeStyle = "rgba(140,158,190,0.10)";
      pen.lineWidth = 0.7;
      pen.stroke(path.core);
      pen.fillStyle = "rgba(165,182,212,0.20)";
      pen.fill(path.beads);
    }
  }

  // The floods themselves, at the foot of the bank: faint where they are dark, a small glare where they are lit.
  #drawLamps(pen, lights, brightness, showRig) {
    const size = Math.max(1.4, Math.min(3, this.height * 0.0042));
    const y = this.water - size * 1.6;
    for (const { i, x } of this.floodSpots) {
      if (showRig) {
        pen.fillStyle = "rgba(165,182,212,0.20)";
        pen.fillRect(x - size, y - size * 0.5, 2 * size, size);
      }
      if (lights[i] <= 0) continue;
      const value = screenValue(lights[i] * brightness);
      for (const [wide, share] of [[9, 0.1], [5, 0.2], [2.6, 0.4], [1.2, 1]]) {
        pen.fillStyle = `rgba(${wide > 2 ? FLOOD_COLOUR : "240,245,255"},${value * share})`;
        pen.beginPath();
        pen.ellipse(x, y, size * wide, size * wide * 0.55, 0, 0, 2 * Math.PI);
        pen.fill();
      }
    }
  }

  // The lines of light small and then smaller still: drawn back large, each is a wider and softer glow.
  #gatherGlow(lights, brightness) {
    const { width: w, height: h, glow, wash } = this;
    const pen = glow[0].pen;
    pen.globalCompositeOperation = "source-over";
    pen.clearRect(0, 0, w, h);
    pen.globalCompositeOperation = "lighter";
    pen.lineJoin = "round";
    pen.lineCap = "round";
    this.paths.forEach((path, i) => {
      if (!path || lights[i] <= 0) return;
      const value = screenValue(lights[i] * brightness);
      pen.strokeStyle = `rgba(${BRANCH_COLOUR},${value})`;
      pen.lineWidth = Math.max(2.2, path.thick * 1.5);
      pen.stroke(path.core);
    });
    for (let k = 1; k < glow.length; k++) {
      glow[k].pen.clearRect(0, 0, w, h);
      glow[k].pen.imageSmoothingQuality = "high";
      this.#lay(glow[k].pen, glow[k - 1].sheet);
    }
    wash.pen.globalCompositeOperation = "source-over";
    wash.pen.clearRect(0, 0, w, h);
    wash.pen.globalCompositeOperation = "lighter";
    this.floodNow = {};
    for (const { i, x, half, gain } of this.floodSpots) {
      if (lights[i] <= 0) continue;
      this.floodNow[i] = screenValue(lights[i] * brightness);
      wash.pen.globalAlpha = this.floodNow[i] * gain;
      const tall = this.water * 0.98;
      wash.pen.drawImage(this.beam, x - half, this.water - tall, 2 * half, tall * 1.015);
    }
    wash.pen.globalAlpha = 1;
    wash.pen.globalCompositeOperation = "source-in";
    wash.pen.fillStyle = `rgb(${FLOOD_COLOUR})`;
    wash.pen.fillRect(0, 0, w, h);
  }

  #drawSky(pen, lights, brightness, branchLight) {
    const { width: w, height: h, water, glow, wash, skyLit } = this;
    // Clouds: the wide glow and the floods' wash, times the clouds' own grey.
    const sky = skyLit.pen;
    sky.globalCompositeOperation = "source-over";
    sky.globalAlpha = 1;
    sky.fillStyle = "#000";
    sky.fillRect(0, 0, w, h);
    sky.globalCompositeOperation = "lighter";
    const share = branchLight / Math.max(1, Math.min(6, this.paths.filter(Boolean).length));
    const ambient = screenValue(Math.min(1, share) * 0.4 * brightness);
    const air = sky.createLinearGradient(0, 0, 0, water);
    air.addColorStop(0, `rgba(188,203,240,${ambient})`);
    air.addColorStop(0.55, `rgba(150,172,225,${ambient * 0.75})`);
    air.addColorStop(1, `rgba(120,142,200,${ambient * 0.5})`);
    sky.fillStyle = air;
    sky.fillRect(0, 0, w, h);
    for (const [k, gain, times] of [[3, 1, 4], [2, 0.8, 1]]) {
      sky.globalAlpha = gain;
      for (let n = 0; n < times; n++) this.#lay(sky, glow[k].sheet);
    }
    sky.globalAlpha = 1;
    this.#lay(sky, wash.sheet);
    this.#lay(sky, wash.sheet);
    sky.globalAlpha = 1;
    sky.globalCompositeOperation = "multiply";
    sky.drawImage(this.clouds, 0, 0, w, water * 1.02);
    pen.globalCompositeOperation = "lighter";
    pen.imageSmoothingQuality = "high";
    this.#lay(pen, skyLit.sheet);

    // Haze of the floods, glow and lines of the branches.
    pen.globalAlpha = 0.62;
    this.#lay(pen, wash.sheet);
    for (const [k, gain] of [[3, 0.85], [2, 0.55], [1, 0.4], [0, 0.42]]) {
      pen.globalAlpha = gain;
      this.#lay(pen, glow[k].sheet);
    }
    pen.globalAlpha = 1;
    pen.lineJoin = "round";
    pen.lineCap = "round";
    this.paths.forEach((path, i) => {
      if (!path || lights[i] <= 0) return;
      const value = screenValue(lights[i] * brightness);
      pen.strokeStyle = `rgba(${BRANCH_COLOUR},${value * 0.85})`;
      pen.lineWidth = path.thick;
      pen.stroke(path.core);
      pen.fillStyle = `rgba(255,255,255,${value})`;
      pen.fill(path.beads);
    });
    pen.globalCompositeOperation = "source-over";
  }

  #drawLandLight(pen, branchLight, brightness) {
    const { width: w, height: h, water, landLit, landTone, glow } = this;
    const lit = landLit.pen;
    lit.globalCompositeOperation = "source-over";
    lit.globalAlpha = 1;
    lit.fillStyle = "#000";
    lit.fillRect(0, 0, w, h);
    lit.globalCompositeOperation = "lighter";
    // Faces catch more light than air does: wider and brighter than the beams themselves.
    lit.globalAlpha = 0.9;
    for (const wide of [1, 1, 1.6, 2.4]) {
      for (const { i, x, half, gain } of this.floodSpots) {
        if (!this.floodNow[i]) continue;
        lit.globalAlpha = 0.8 * this.floodNow[i] * gain;
        lit.drawImage(this.beam, x - half * wide, water * 0.1, 2 * half * wide, water * 0.93);
      }
    }
    lit.globalAlpha = 1;
    const share = branchLight / Math.max(1, Math.min(6, this.paths.filter(Boolean).length));
    lit.fillStyle = `rgba(160,178,220,${screenValue(Math.min(1, share) * 0.09 * brightness)})`;
    lit.fillRect(0, 0, w, h);
    lit.globalAlpha = 0.5;
    this.#lay(lit, glow[3].sheet);
    lit.globalAlpha = 1;
    lit.globalCompositeOperation = "multiply";
    this.#lay(lit, landTone.sheet);
    lit.globalCompositeOperation = "destination-in";
    this.#lay(lit, landTone.sheet);
    pen.globalCompositeOperation = "lighter";
    this.#lay(pen, landLit.sheet);
    pen.globalCompositeOperation = "source-over";
  }

  // The water: strips of the upper picture upside down, pushed aside by ripples that widen towards us.
  #drawWater(main, seconds) {
    const { width: w, height: h, water, upper } = this;
    const ratio = upper.sheet.height / h;
    const deep = h - water;
    main.fillStyle = "#03050a";
    main.fillRect(0, water, w, deep);
    for (let y = 0; y < deep; ) {
      const near = y / deep;
      const strip = Math.max(1 / ratio, 1.2 + near * 3.2);
      const source = water - 1 - (y + strip) * (1.3 + near * 2.4);
      const tall = strip * (1.3 + near * 4.4);
      const push = (0.5 + near * 4.2) * Math.sin(y * 0.62 + seconds * 2.1 + Math.sin(y * 0.19 + seconds) * 2) * (h / 520);
      main.globalAlpha = 0.8 - 0.38 * near;
      if (source > 0)
        main.drawImage(upper.sheet, 0, source * ratio, upper.sheet.width, Math.max(1, tall * ratio), push - 6, water + y, w + 12, strip + 0.6);
      y += strip;
    }
    main.globalAlpha = 1;
    const edge = main.createLinearGradient(0, water - 1, 0, water + h * 0.02);
    edge.addColorStop(0, "rgba(2,3,6,0.85)");
    edge.addColorStop(1, "rgba(2,3,6,0)");
    main.fillStyle = edge;
    main.fillRect(0, water - 1, w, h * 0.022);
  }

  #drawMark(pen, index, overLand) {
    const path = this.paths[index];
    pen.strokeStyle = "rgba(245,184,92,0.95)";
    if (path && !overLand) {
      pen.lineWidth = path.thick + 1.4;
      pen.lineJoin = "round";
      pen.stroke(path.core);
    }
    const spot = overLand && this.floodSpots.find(({ i }) => i === index);
    if (!spot) return;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(spot.x - 9, this.water - 3);
    pen.lineTo(spot.x, this.water - 16);
    pen.lineTo(spot.x + 9, this.water - 3);
    pen.closePath();
    pen.stroke();
  }

  // A point of a channel's light in the page's own pixels: the middle of a branch, or a flood.
  spotOf(index) {
    const line = this.lines && this.lines[index];
    if (line) return line.points[Math.floor(line.points.length / 2)];
    const spot = (this.floodSpots || []).find(({ i }) => i === index);
    return spot ? [spot.x, this.water - 4] : null;
  }

  // The branch within reach of a point, or -1.
  branchNear(x, y, reach = 12) {
    let best = -1;
    let nearest = reach;
    (this.lines || []).forEach((line, i) => {
      if (!line) return;
      for (const [px, py] of line.points) {
        const distance = Math.hypot(px - x, py - y);
        if (distance < nearest) {
          nearest = distance;
          best = i;
        }
      }
    });
    return best;
  }
}
