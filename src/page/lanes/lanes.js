// The lanes: the whole storm on one time axis, one lane above the other.
//
// Each lane has its own canvas and draws itself anew only when the view changes; the playhead is an element on top that
// moves without any drawing. Positions in the sound are shown at the moment at which they are heard, that is offset_s
// after the light's own time.

class Lanes {
  // `wants` is told of what the user does: seek(seconds), choose(from, to), mark(channel index or -1), pick(seconds, reach),
  // carry(crack), which answers with {to(seconds), drop(), back()}; canCarry() tells whether cracks can be moved.
  constructor(root, data, timeline, end, wants, leaving) {
    Object.assign(this, { root, data, timeline, end, wants, leaving });
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
    this.unlit = new Set(); // cracks without light of their own
    this.inHand = null; // the event that the workbench has in hand
    this.carrying = false; // while a crack is dragged
    this.peak = bytesOf(data.wave.peak);
    this.bands = bytesOf(data.bands.data);
    this.#take();
    paintBands(this);
    this.#buildStrips();
    this.#listenToStrips();
    listenToPointer(this);
  }

  #take() {
    const { data } = this;
    this.offset = data.sound.offset_s || 0;
    this.cracks = data.events.filter((event) => event.kind === "crack");
    this.rumbles = data.events.filter((event) => event.kind === "rumble");
    this.flash = bytesOf(data.flash.data);
  }

  // After the storm was cued anew: the view stays where it is, as far as it can.
  renew(timeline, end) {
    const all = this.showsAll && !this.carrying;
    Object.assign(this, { timeline, end });
    this.#take();
    if (all) this.setView(0, end);
    else this.setView(this.view.from, this.view.to);
  }

  // After the rig has changed.
  renewStrips() {
    this.#buildStrips();
    this.resize();
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
    labels.replaceChildren(parts);
    this.strips = channels.length * this.rowHeight;
    this.scroller.style.height = `${Math.min(this.strips, 20 * 20)}px`;
    labels.style.height = `${this.strips}px`;
  }

  #listenToStrips() {
    const labels = this.root.querySelector("#strip-labels");
    this.scroller.addEventListener("scroll", () => drawLane(this, "strips"), { passive: true });
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

  get showsAll() {
    return this.view.from === 0 && this.view.to === this.end;
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
    if (this.carrying) return;
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

  // What can be done at once with the crack or rumble in hand stands right below it.
  placeChip() {
    const chip = this.root.querySelector("#hand-chip");
    const event = this.inHand;
    const x = event ? (this.x(event.start_s + this.offset) + this.x((event.kind === "rumble" ? event.end_s : event.start_s) + this.offset)) / 2 : 0;
    chip.hidden = !event || this.carrying || x < 0 || x > this.plot;
    if (chip.hidden) return;
    const lane = this.lanes.events.box;
    const room = this.gutter + this.plot - chip.offsetWidth;
    chip.style.left = `${Math.max(4, Math.min(room, this.gutter + x - chip.offsetWidth / 2))}px`;
    chip.style.top = `${lane.offsetTop + lane.offsetHeight + 4}px`;
  }

  drawAll() {
    if (!this.plot) return;
    this.placeChip();
    for (const name of Object.keys(this.lanes)) drawLane(this, name);
    this.showHead(this.headAt || 0);
    this.showChosen(this.loop);
  }
}
