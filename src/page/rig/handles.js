// Handles over the picture: what hangs there is dragged to its place, or moved with the arrow keys. The picture follows
// the hand; the rig takes the new places when the hand lets go.

const STEP_PERCENT = 1;
const LONG_STEP_PERCENT = 5;
const FORK_STEP_PERCENT = 4;
const BESIDE_FORK_PIXELS = 22;
// More channels than this have handles without numbers.
const NUMBERS_MOST = 60;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

class Handles {
  // `owner` is the RigBench.
  constructor(owner) {
    this.owner = owner;
    this.app = owner.app;
    this.on = false;
    this.places = null; // while something moves: {number: {x, y, start_x, start_y, fork}}
    this.before = null; // and before it moved
    this.moving = null; // the handle in the hand: {number, what, index, changed, ...}
    this.buttons = new Map();
    this.box = element("div", undefined, "handles");
    this.box.hidden = true;
    this.bar = element("div", undefined, "handles-bar");
    this.done = Object.assign(element("button", "Done", "strong"), { type: "button" });
    this.inHand = named("");
    const words = element("p");
    words.append(this.inHand, " Drag each light to where it hangs.", element("span", " Arrow keys move the one in hand, Page Up and Page Down go to the next."));
    const together = element("label", undefined, "check");
    this.together = Object.assign(element("input"), { type: "checkbox" });
    together.append(this.together, element("span", "with what grows from it"));
    this.bar.append(words, together, this.done);
    this.bar.hidden = true;
    byId("stage").append(this.box);
    byId("stage").after(this.bar);
    this.#listen();
  }

  // ---- where things are in the picture ----

  #pointOf(index, what) {
    const { stage } = this.app;
    const line = stage.lines && stage.lines[index];
    if (line) return what === "end" ? line.points.at(-1) : line.points[0];
    const spot = (stage.floodSpots || []).find(({ i }) => i === index);
    return spot ? [spot.x, spot.foot] : null;
  }

  // A little way down the branch, so that the handle doesn't lie on that of the parent's end.
  #besideFork(index) {
    const { points } = this.app.stage.lines[index];
    const [x, y] = points[0];
    const away = points.findIndex(([px, py]) => Math.hypot(px - x, py - y) > BESIDE_FORK_PIXELS);
    return points[away < 0 ? points.length >> 1 : Math.min(away, points.length >> 1)];
  }

  // Everything's place as it is drawn now, in the words of the rig file.
  placesNow() {
    const { stage, channels } = this.app;
    const places = {};
    channels.forEach(({ number }, i) => {
      const end = this.#pointOf(i, "end");
      if (!end) return;
      const line = stage.lines[i];
      places[number] = percentOf(stage.ground, end);
      if (!line) return;
      const start = percentOf(stage.ground, line.points[0]);
      if (line.parent < 0) Object.assign(places[number], { start_x: start.x, start_y: start.y });
      else places[number].fork = Math.max(1, Math.round(100 * line.share));
    });
    return places;
  }

  // How far along its parent a point is, in percent.
  #forkAt(index, [x, y]) {
    const parent = this.app.stage.lines[this.app.stage.lines[index].parent].points;
    let nearest = 0;
    parent.forEach(([px, py], k) => {
      if (Math.hypot(px - x, py - y) < Math.hypot(parent[nearest][0] - x, parent[nearest][1] - y)) nearest = k;
    });
    return Math.max(1, Math.round((100 * nearest) / (parent.length - 1)));
  }

  // ---- on and off ----

  start() {
    const { player, picture } = this.app;
    byId("stage").classList.add("arranging");
    this.on = true;
    player.pause();
    picture.arrange(this);
    this.box.hidden = this.bar.hidden = false;
    byId("rig-arrange").setAttribute("aria-pressed", "true");
    this.show();
    byId("theatre").scrollIntoView({ block: "nearest" });
    const button = this.buttons.get(`${this.owner.chosen} end`);
    if (button) button.focus({ preventScroll: true });
    say("Arrow keys move the light in hand, Page Up and Page Down go to the next");
  }

  stop() {
    if (!this.on) return;
    this.#drop();
    this.on = false;
    this.box.hidden = this.bar.hidden = true;
    byId("stage").classList.remove("arranging");
    this.app.picture.arrange(null);
    byId("rig-arrange").setAttribute("aria-pressed", "false");
  }

  // ---- showing ----

  #wanted() {
    const { channels, stage } = this.app;
    const wanted = [];
    channels.forEach(({ number, kind }, i) => {
      const line = stage.lines && stage.lines[i];
      if (kind === "branch" && !line) return;
      // A root begins where it is hung up; where another branch leaves its parent matters while it is in hand.
      if (line && (line.parent < 0 || number === this.owner.chosen)) wanted.push([i, number, line.parent < 0 ? "start" : "fork"]);
      wanted.push([i, number, "end"]);
    });
    return wanted;
  }

  show() {
    if (!this.on) return;
    const wanted = this.#wanted();
    const keys = new Set(wanted.map(([, number, what]) => `${number} ${what}`));
    for (const [key, button] of this.buttons) {
      if (keys.has(key)) continue;
      button.remove();
      this.buttons.delete(key);
    }
    for (const [i, number, what] of wanted) this.#showOne(i, number, what);
    const chosen = this.app.channels[this.owner.index];
    this.inHand.textContent = chosen ? `${chosen.number} ${plainText(chosen.name, 40)}` : "";
  }

  #showOne(index, number, what) {
    const { channels, stage } = this.app;
    const key = `${number} ${what}`;
    let button = this.buttons.get(key);
    if (!button) {
      button = Object.assign(element("button"), { type: "button" });
      Object.assign(button.dataset, { number, what });
      this.buttons.set(key, button);
      this.box.append(button);
    }
    const chosen = number === this.owner.chosen;
    const { kind, name } = channels[index];
    button.className = `handle ${what} ${kind}${chosen ? " chosen" : ""}`;
    button.textContent = what === "end" && channels.length <= NUMBERS_MOST ? number : "";
    button.tabIndex = chosen ? 0 : -1;
    const [x, y] = what === "fork" ? this.#besideFork(index) : this.#pointOf(index, what);
    const { x: left, y: up } = percentOf(stage.ground, [x, y]);
    const part = what === "fork" ? `leaves its parent after ${Math.round(100 * stage.lines[index].share)} %`
      : `${what === "start" ? "upper end, " : kind === "branch" ? "lower end, " : ""}${left} % from the left, ${up} % up`;
    button.setAttribute("aria-label", `${number} ${plainText(name)}: ${part}`);
    button.title = `${number} ${plainText(name)}`;
    const keep = (at, most) => Math.min(most - 8, Math.max(8, at));
    button.style.left = `${keep(x, stage.width)}px`;
    button.style.top = `${keep(y, stage.height)}px`;
  }

  // ---- moving ----

  #take(button) {
    const number = Number(button.dataset.number);
    if (number !== this.owner.chosen) this.owner.choose(number);
    this.before = this.placesNow();
    this.places = { ...this.before };
    this.moving = { number, what: button.dataset.what, index: this.app.indexOf.get(number), changed: [] };
  }

  // What moves with the handle in hand: [number, key across, key up].
  #moved() {
    const { number, what } = this.moving;
    const own = what === "start" ? [[number, "start_x", "start_y"]] : [[number, "x", "y"]];
    if (!this.together.checked) return own;
    const family = [...familyOf(this.owner.rig, number)].filter((member) => what === "start" || member !== number);
    return [...own, ...family.map((member) => [member, "x", "y"])];
  }

  // Moves the handle in hand by percentages of the picture, from where it was taken; nothing leaves the picture.
  #moveBy(across, up) {
    const moved = this.#moved();
    const most = (by, at) => moved.reduce((now, part) => Math.max(-this.before[part[0]][part[at]], Math.min(100 - this.before[part[0]][part[at]], now)), by);
    const [dx, dy] = [most(across, 1), most(up, 2)];
    for (const [number, x, y] of moved)
      this.places[number] = { ...this.places[number], [x]: within(this.before[number][x] + dx), [y]: within(this.before[number][y] + dy) };
    Object.assign(this.moving, { across: dx, up: dy, changed: moved });
    this.#draw();
  }

  #moveFork(fork) {
    const { number } = this.moving;
    this.places[number] = { ...this.places[number], fork: Math.min(100, Math.max(1, fork)) };
    this.moving.changed = [[number, "fork", "fork"]];
    this.#draw();
  }

  // The picture with everything at its place in this.places.
  #draw() {
    const { app } = this;
    app.stage.renew(app.channels.map((channel) => ({ ...channel, ...this.places[channel.number] })));
    app.picture.redraw();
    this.show();
  }

  // The hand lets go: the rig takes what has moved.
  #drop() {
    const { moving, places } = this;
    if (!moving) return;
    const hung = {};
    for (const [number, x, y] of moving.changed) hung[number] = { ...hung[number], [x]: places[number][x], [y]: places[number][y] };
    const problem = moving.changed.length && this.owner.hang(hung, { motion: moving.pointer === undefined ? `hang ${moving.number} ${moving.what}` : null });
    this.moving = this.places = null;
    if (problem) this.#putBack();
  }

  #putBack() {
    this.moving = this.places = null;
    this.app.stage.renew(this.app.channels);
    this.app.picture.redraw();
    this.show();
  }

  #key(event) {
    const button = event.target.closest(".handle");
    if (!button || event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    const turn = { PageUp: -1, PageDown: 1 }[event.key];
    if (!arrow && !turn && event.key !== "Escape") return;
    event.preventDefault();
    event.stopPropagation();
    if (event.key === "Escape") return this.moving ? this.#putBack() : this.#leave();
    if (turn) return this.#next(button, turn);
    if (!this.moving) this.#take(button);
    const { number, what, across = 0, up = 0 } = this.moving;
    const step = event.shiftKey ? LONG_STEP_PERCENT : STEP_PERCENT;
    if (what === "fork") this.#moveFork(this.places[number].fork + FORK_STEP_PERCENT * (arrow[0] - arrow[1]));
    else this.#moveBy(across + step * arrow[0], up + step * arrow[1]);
  }

  #next(button, turn) {
    this.#drop();
    const wanted = this.#wanted().filter(([, , what]) => what === "end");
    const at = wanted.findIndex(([, number]) => number === Number(button.dataset.number));
    const [, number] = wanted[(at + turn + wanted.length) % wanted.length];
    this.owner.choose(number);
    this.buttons.get(`${number} end`).focus({ preventScroll: true });
  }

  #leave() {
    this.stop();
    byId("rig-arrange").focus();
  }

  #listen() {
    const { box } = this;
    const at = (event) => {
      const picture = byId("picture").getBoundingClientRect();
      return [event.clientX - picture.left, event.clientY - picture.top];
    };
    this.done.addEventListener("click", () => this.#leave());
    box.addEventListener("pointerdown", (event) => {
      const button = event.target.closest(".handle");
      if (!button || event.button > 0) return;
      this.#drop();
      this.#take(button);
      const [x, y] = at(event);
      Object.assign(this.moving, { pointer: event.pointerId, from: [x, y], point: this.#pointOf(this.moving.index, this.moving.what) });
      button.setPointerCapture(event.pointerId);
    });
    box.addEventListener("pointermove", (event) => {
      const { moving } = this;
      if (!moving || moving.pointer !== event.pointerId) return;
      const [x, y] = at(event);
      const [dx, dy] = [x - moving.from[0], y - moving.from[1]];
      // A click that trembles moves nothing.
      if (!moving.changed.length && Math.hypot(dx, dy) <= 2) return;
      const { width, ground } = this.app.stage.ground;
      if (moving.what === "fork") this.#moveFork(this.#forkAt(moving.index, [moving.point[0] + dx, moving.point[1] + dy]));
      else this.#moveBy((100 * dx) / width, (-100 * dy) / ground);
    });
    box.addEventListener("pointerup", (event) => {
      if (this.moving && this.moving.pointer === event.pointerId) this.#drop();
    });
    box.addEventListener("pointercancel", () => this.#putBack());
    box.addEventListener("keydown", (event) => this.#key(event));
    box.addEventListener("keyup", (event) => ARROWS[event.key] && this.moving && this.moving.pointer === undefined && this.#drop());
    box.addEventListener("focusout", () => this.moving && this.moving.pointer === undefined && this.#drop());
    // Beside the handles: the branch there comes in hand.
    box.addEventListener("click", (event) => {
      if (event.target !== box) return;
      const index = this.app.stage.branchNear(...at(event), 16);
      if (index >= 0) this.owner.choose(this.app.channels[index].number);
    });
    new ResizeObserver(() => this.show()).observe(byId("stage"));
  }
}
