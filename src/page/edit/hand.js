// The crack or rumble in hand: choosing it, and everything that can be done to it, by pointer, keys and fields.

const NUDGE_S = 0.01;
const RUMBLE_LEAST_S = 0.1;
const toMs = (seconds) => Math.round(seconds * 1000) / 1000;

class Hand {
  constructor(bench) {
    this.bench = bench;
    this.app = bench.app;
    this.chosen = null; // {key} or {index}
    this.#listen();
  }

  get entry() {
    const { chosen } = this;
    return chosen && this.bench.storm.list.find(({ key, index }) => (chosen.key === undefined ? index === chosen.index : key === chosen.key));
  }

  // ---- choosing ----

  #take(found) {
    this.chosen = found ? { key: found.key, index: found.index } : null;
    this.bench.show();
  }

  // The crack whose light frame this is, or the rumble around it.
  chooseAt(seconds, reach = 0.5 / this.app.data.frame_rate) {
    const at = seconds - this.app.offset;
    const away = ({ event }) => Math.abs(event.start_s - at);
    const { list } = this.bench.storm;
    const cracks = list.filter(({ event }) => event.kind === "crack" && away({ event }) <= reach).sort((a, b) => away(a) - away(b));
    this.#take(cracks[0] || list.find(({ event }) => event.kind === "rumble" && event.start_s <= at && at < event.end_s));
  }

  chooseEvent(event) {
    this.#take(this.bench.storm.list.find((entry) => sameEvent(entry.event, event)));
  }

  // The next or previous rumble, from the one in hand or from the playhead.
  toRumble(direction) {
    const rumbles = this.bench.storm.list.filter(({ event }) => event.kind === "rumble");
    const { entry } = this;
    const now = entry && entry.event.kind === "rumble" ? entry.event.start_s : this.app.player.time - this.app.offset;
    const at = direction > 0 ? rumbles.findIndex(({ event }) => event.start_s > now + 1e-6) : rumbles.findLastIndex(({ event }) => event.start_s < now - 1e-6);
    if (at < 0) return say(direction > 0 ? "No rumble after this" : "No rumble before this");
    const { event } = rumbles[at];
    this.#take(rumbles[at]);
    this.app.transport.seek(event.start_s + this.app.offset, `Rumble ${at + 1} of ${rumbles.length}, ${lengthText(event.end_s - event.start_s)}`);
  }

  // ---- changing ----

  change(event, words, motion = null) {
    const { entry, bench } = this;
    if (!entry) return;
    bench.storm.take({ ...bench.storm.state, hand: handWith(bench.storm.state.hand, entry, event) }, motion);
    if (!event) this.chosen = null;
    if (motion === "carry") bench.renewAtRest();
    else if (motion && motion.startsWith("slide")) bench.renewSoon();
    else bench.renew();
    if (words) say(words);
  }

  remove() {
    const { entry } = this;
    if (!entry) return say("Choose a crack or a rumble first: pick it in the lanes, or go to it with N, P or R");
    this.change(null, `${entry.event.kind === "crack" ? "Crack" : "Rumble"} deleted. Ctrl and Z brings it back`);
  }

  add() {
    const { app, bench } = this;
    const at = toMs(app.player.time - app.offset);
    if (at < 0 || at >= this.#length - 0.05) return say("There is no sound here to add a crack to");
    const there = bench.storm.list.find(({ event }) => event.kind === "crack" && Math.abs(event.start_s - at) < NUDGE_S / 2);
    if (there) {
      this.#take(there);
      return say("There is a crack here already: it is selected");
    }
    const event = { kind: "crack", start_s: at, end_s: at, peak_s: at, strength: 0.8, sharpness: 0.8, level_dbfs: 0, strokes: 0, path: [] };
    const { hand } = bench.storm.state;
    bench.storm.take({ ...bench.storm.state, hand: { ...hand, added: [...hand.added, event] } });
    this.chosen = { index: hand.added.length };
    bench.renew();
    say(`Crack added at ${timeText(at + app.offset + app.shift)}`);
  }

  // Of the recording; its light may last longer. Events alone have no recording.
  get #length() {
    const { length_s: length, duration_s: duration } = this.app.data;
    return length || duration;
  }

  // Within the recording.
  #held(at) {
    return toMs(Math.min(this.#length, Math.max(0, at)));
  }

  // Answers where it starts then.
  moveTo(at, words, motion = null) {
    const { entry } = this;
    if (!entry) return at;
    const { event } = entry;
    const start_s = this.#held(Math.min(at, this.#length - (event.end_s - event.start_s)));
    const by = start_s - event.start_s;
    this.change({ ...event, start_s, end_s: toMs(event.end_s + by), peak_s: toMs(event.peak_s + by) }, words, motion);
    return start_s;
  }

  // A little earlier or later.
  nudge(by) {
    const { entry } = this;
    if (!entry) return say("Choose a crack or a rumble first: pick it in the lanes, or go to it with N, P or R");
    this.moveTo(entry.event.start_s + by, null, "nudge");
    if (this.entry) say(`At ${timeText(this.entry.event.start_s + this.app.offset + this.app.shift)}`);
  }

  // Carries a crack along with the pointer: to(seconds) answers where it is then. Dropped it is one step of undo; put back,
  // or dropped where it was, it is as if nobody had touched it.
  carry(event) {
    const { bench, app } = this;
    const before = bench.storm.standing;
    this.chooseEvent(event);
    app.picture.hold(true);
    const letGo = (words) => {
      bench.storm.motion = null;
      app.picture.hold(false);
      say(words);
    };
    const back = () => {
      bench.storm.backTo(before);
      bench.renew();
      letGo("The crack is back where it was");
    };
    return {
      to: (at) => this.moveTo(at, null, "carry"),
      drop: () => {
        bench.settle();
        const { start_s: now } = this.entry.event;
        if (now === event.start_s) back();
        else letGo(`Crack moved to ${timeText(now + app.offset + app.shift)}`);
      },
      back,
    };
  }

  // `which`: start_s or end_s of the rumble in hand.
  setEnd(which, at, words) {
    const { entry } = this;
    if (!entry || entry.event.kind !== "rumble") return;
    const event = { ...entry.event, [which]: this.#held(at) };
    if (event.end_s - event.start_s < RUMBLE_LEAST_S) {
      this.bench.show();
      return say("A rumble lasts a tenth of a second at least");
    }
    event.peak_s = Math.min(event.end_s, Math.max(event.start_s, event.peak_s));
    this.change(event, words);
  }

  // ---- paths ----

  // The way from the root to a branch of the rig.
  #pathTo(index) {
    const { channels, indexOf } = this.app;
    const path = [];
    for (let at = channels[index]; at && path.length < PATH_MOST; at = at.parent ? channels[indexOf.get(at.parent)] : null) path.unshift(at.number);
    return path;
  }

  takePath(path) {
    const { entry } = this;
    if (!entry || entry.event.kind !== "crack") return;
    this.change({ ...entry.event, path }, path.length ? `The crack takes the path ${path.join(" ")}` : "The path is drawn again");
  }

  #fillPaths(path) {
    const select = byId("hand-path");
    const { channels } = this.app;
    const now = path.join(" ");
    if (select.dataset.rig !== this.bench.storm.state.rig || !select.options.length) {
      const options = [Object.assign(element("option", "any: drawn at random"), { value: "" })];
      channels.forEach((channel, i) => {
        if (channel.kind !== "branch") return;
        const words = this.#pathTo(i);
        options.push(Object.assign(element("option", `${words.join(" ")}: to ${plainText(channel.name, 30)}`), { value: words.join(" ") }));
      });
      select.replaceChildren(...options);
      select.dataset.rig = this.bench.storm.state.rig;
    }
    if (![...select.options].some(({ value }) => value === now)) select.append(Object.assign(element("option", now), { value: now }));
    select.value = now;
  }

  // ---- showing ----

  show() {
    const { entry } = this;
    const { offset, shift } = this.app;
    byId("in-hand").hidden = !entry;
    byId("no-hand").hidden = Boolean(entry);
    this.app.lanes.inHand = entry ? entry.event : null;
    drawLane(this.app.lanes, "events");
    this.app.lanes.placeChip();
    if (!entry) return;
    const { event } = entry;
    const crack = event.kind === "crack";
    byId("in-hand-name").textContent = crack ? `Crack at ${timeText(event.start_s + offset + shift)}`
      : `Rumble ${timeText(event.start_s + offset + shift)} to ${timeText(event.end_s + offset + shift)}`;
    for (const part of document.querySelectorAll("[data-for]")) part.hidden = part.dataset.for !== event.kind;
    for (const [id, seconds] of [["hand-at", event.start_s], ["hand-from", event.start_s], ["hand-to", event.end_s]]) byId(id).value = (seconds + offset + shift).toFixed(3);
    byId("hand-strength").value = event.strength;
    byId("hand-strength-value").textContent = event.strength.toFixed(2);
    byId("hand-sharpness").value = event.sharpness;
    byId("hand-sharpness-value").textContent = event.sharpness.toFixed(2);
    byId("hand-strokes").value = event.strokes || 0;
    if (crack) this.#fillPaths(event.path);
  }

  #listen() {
    const { app } = this;
    const click = (id, act) => byId(id).addEventListener("click", act);
    const here = () => app.player.time - app.offset;
    click("add-crack", () => this.add());
    click("hand-delete", () => this.remove());
    click("chip-delete", () => this.remove());
    click("chip-edit", () => {
      byId("in-hand").scrollIntoView({ block: "nearest" });
      byId(this.entry.event.kind === "crack" ? "hand-at" : "hand-from").focus({ preventScroll: true });
    });
    click("hand-move", () => this.moveTo(here(), "Crack moved here"));
    click("hand-start", () => this.setEnd("start_s", here(), "The rumble starts here"));
    click("hand-end", () => this.setEnd("end_s", here(), "The rumble ends here"));
    const field = (id, act) => byId(id).addEventListener("change", (event) => {
      if (event.target.value === "" || !Number.isFinite(Number(event.target.value))) return this.bench.show();
      act(Number(event.target.value) - app.offset - app.shift);
    });
    field("hand-at", (at) => this.moveTo(at));
    field("hand-from", (at) => this.setEnd("start_s", at));
    field("hand-to", (at) => this.setEnd("end_s", at));
    const slide = (id, name) => {
      byId(id).addEventListener("input", (event) => this.change({ ...this.entry.event, [name]: Number(event.target.value) }, null, `slide ${id}`));
      byId(id).addEventListener("change", () => (this.bench.storm.motion = null));
    };
    slide("hand-strength", "strength");
    slide("hand-sharpness", "sharpness");
    byId("hand-strokes").addEventListener("change", (event) => this.change({ ...this.entry.event, strokes: Number(event.target.value) }));
    byId("hand-path").addEventListener("change", (event) => this.takePath(event.target.value ? event.target.value.split(" ").map(Number) : []));
    byId("picture").addEventListener("click", (event) => {
      const box = byId("picture").getBoundingClientRect();
      const index = app.stage.branchNear(event.clientX - box.left, event.clientY - box.top);
      if (index >= 0) this.takePath(this.#pathTo(index));
    });
  }
}
