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
const MOST_PIXELS = 3.2e6;
const FEWEST_PIXELS = 0.35e6;
const SLOW_DRAWING_MS = 22;

class Stage {
  constructor(canvas, channels) {
    this.canvas = canvas;
    this.#take(channels);
    this.clouds = paintClouds();
    this.beam = paintFloodBeam();
    this.width = 0;
    this.height = 0;
    this.pixels = MOST_PIXELS;
    this.pace = 0;
  }

  #take(channels) {
    this.channels = channels;
    this.bolt = growBolt(channels);
    this.floods = channels.map((channel, i) => i).filter((i) => channels[i].kind === "flood");
  }

  // Another rig, or the same one hung otherwise.
  renew(channels) {
    this.#take(channels);
    if (this.width) this.#layOut();
  }

  // The picture as places see it (scene/places.js).
  get ground() {
    return { width: this.width, ground: this.water };
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
    const laidOut = fitBolt(this.bolt, { left: middle - reach, right: middle + reach, top: -2, bottom: this.water - h * 0.075 });
    this.lines = placeBolt(laidOut, this.channels, this.ground);
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
    this.floodSpots = this.floods.map((i, k) => {
      const { x = n === 1 ? 50 : 9 + (82 * k) / (n - 1), y = 0 } = this.channels[i];
      const [left, foot] = pixelsOf(this.ground, x, y);
      return { i, x: left, foot, half, gain };
    });
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
    this.night = this.#sheet();
    paintNight(this.night.pen, this);
    this.land = this.#sheet();
    this.landTone = this.#sheet();
    paintLand(this.land.pen, this, false);
    paintLand(this.landTone.pen, this, true);
    this.front = this.#sheet();
    paintFront(this.front.pen, this);

    this.upper = this.#sheet();
    this.landLit = this.#sheet(0.5);
    this.skyLit = this.#sheet(0.25);
    this.glow = [0.25, 0.125, 0.0625, 0.03125].map((share) => this.#sheet(share));
    this.wash = this.#sheet(0.125);
  }

  #lay(pen, sheet) {
    pen.drawImage(sheet, 0, 0, this.width, this.height);
  }

  // Draws the lights (0..1, one per channel) at a display brightness (0..1). `showRig` draws the unlit strings faintly,
  // `marked` is the index of a channel to point out, or -1; `seconds` moves the ripples.
  draw(lights, { brightness = 1, showRig = true, marked = -1, seconds = 0, arranging = null } = {}) {
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
    if (showRig && !arranging) this.#drawRig(pen, 0.1, 0.2);
    if (branchLight + floodLight > 0) {
      this.#gatherGlow(lights, brightness);
      this.#drawSky(pen, lights, brightness, branchLight);
    }
    if (marked >= 0) this.#drawMark(pen, marked, false);
    this.#lay(pen, this.land.sheet);
    if (branchLight + floodLight > 0) this.#drawLandLight(pen, branchLight, brightness);
    if (arranging) this.#drawRig(pen, 0.4, 0.75);
    this.#drawLamps(pen, lights, brightness, showRig || arranging);
    if (marked >= 0) this.#drawMark(pen, marked, true);

    const main = this.canvas.getContext("2d", { alpha: false });
    main.setTransform(this.canvas.width / w, 0, 0, this.canvas.height / h, 0, 0);
    main.globalAlpha = 1;
    this.#lay(main, upper.sheet);
    this.#drawWater(main, seconds);
    this.#lay(main, this.front.sheet);
  }

  #drawRig(pen, line, lamps) {
    pen.lineJoin = "round";
    for (const path of this.paths) {
      if (!path) continue;
      pen.strokeStyle = `rgba(140,158,190,${line})`;
      pen.lineWidth = 0.7;
      pen.stroke(path.core);
      pen.fillStyle = `rgba(165,182,212,${lamps})`;
      pen.fill(path.beads);
    }
  }

  // The floods themselves, at the foot of the bank: faint where they are dark, a small glare where they are lit.
  #drawLamps(pen, lights, brightness, showRig) {
    const size = Math.max(1.4, Math.min(3, this.height * 0.0042));
    for (const { i, x, foot } of this.floodSpots) {
      const y = foot - size * 1.6;
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
    for (const { i, x, foot, half, gain } of this.floodSpots) {
      if (lights[i] <= 0) continue;
      this.floodNow[i] = screenValue(lights[i] * brightness);
      wash.pen.globalAlpha = this.floodNow[i] * gain;
      this.#drawBeam(wash.pen, x, foot, half, this.water * 0.98, 0.015);
    }
    wash.pen.globalAlpha = 1;
    wash.pen.globalCompositeOperation = "source-in";
    wash.pen.fillStyle = `rgb(${FLOOD_COLOUR})`;
    wash.pen.fillRect(0, 0, w, h);
  }

  // The light of a flood, up from its foot and a little below. One that hangs above the ground spills light downwards, too.
  #drawBeam(pen, x, foot, half, tall, below) {
    if (foot > this.water - 3) return pen.drawImage(this.beam, x - half, foot - tall, 2 * half, tall * (1 + below));
    pen.drawImage(this.beam, x - half, foot - tall, 2 * half, tall);
    pen.save();
    pen.translate(0, 2 * foot);
    pen.scale(1, -1);
    pen.drawImage(this.beam, x - half, foot - tall * 0.4, 2 * half, tall * 0.4);
    pen.restore();
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
      for (const { i, x, foot, half, gain } of this.floodSpots) {
        if (!this.floodNow[i]) continue;
        lit.globalAlpha = 0.8 * this.floodNow[i] * gain;
        this.#drawBeam(lit, x, foot, half * wide, water * 0.9, 0.033);
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
    pen.moveTo(spot.x - 9, spot.foot - 3);
    pen.lineTo(spot.x, spot.foot - 16);
    pen.lineTo(spot.x + 9, spot.foot - 3);
    pen.closePath();
    pen.stroke();
  }

  // A point of a channel's light in the page's own pixels: the middle of a branch, or a flood.
  spotOf(index) {
    const line = this.lines && this.lines[index];
    if (line) return line.points[Math.floor(line.points.length / 2)];
    const spot = (this.floodSpots || []).find(({ i }) => i === index);
    return spot ? [spot.x, spot.foot - 4] : null;
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
