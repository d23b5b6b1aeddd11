// What never changes in the picture: night, clouds, hills, trees, mill, bank and reeds. Painted once per size.
//
// A place is {width, height, water, millX, millSize} in the page's own pixels.

const WATERLINE = 0.795;

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

// Hills, trees, mill and bank, once as they stand in the dark and once in the tones that light brings out.
function paintLand(pen, place, lit) {
  const { width: w, height: h, water } = place;
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
  wood(w * 0.5, place.millX - place.millSize * 0.5, unit * 0.05, 12);
  wood(-unit * 0.1, w * 0.2, unit * 0.25, 14);
  wood(place.millX + place.millSize * 0.62, w + unit * 0.1, unit * 0.27, 10);
  for (const [x, tall] of trees) paintTree(pen, place, lit, x, tall, random);
  paintMill(pen, place, lit);

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
function paintTree(pen, place, lit, x, tall, random) {
  const { water } = place;
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

function paintMill(pen, place, lit) {
  const { water, millX: x, millSize: s } = place;
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
function paintFront(pen, place) {
  const { width: w, height: h } = place;
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

function paintNight(pen, { width, height }) {
  const sky = pen.createLinearGradient(0, 0, 0, height);
  sky.addColorStop(0, "#040509");
  sky.addColorStop(0.5, "#070a12");
  sky.addColorStop(WATERLINE, "#0c111c");
  sky.addColorStop(1, "#05070c");
  pen.fillStyle = sky;
  pen.fillRect(0, 0, width, height);
}
