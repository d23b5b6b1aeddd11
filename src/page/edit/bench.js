// The workbench: sliders for the settings, the crack or rumble in hand, undo and save. Every change cues the storm anew.

// Settings to taste that stand in front; the others are folded away.
const IN_FRONT = ["sensitivity", "strength", "flood-share", "rumble-light", "fork-share", "weakest-light"];
// Light frames belong to the envelope that was heard, and the words of the files to whoever reads them.
const FIXED = ["frame-rate"];

// Settings whose names alone don't tell somebody new what they do.
const PLAIN_LABELS = {
  strength: "Brightness of strokes",
  "stroke-stop": "Chance it ends after each stroke",
  "heard-within": "Count echoes within",
  "new-path": "Chance of a new branch (2nd stroke)",
  "later-path": "Chance of a new branch (later strokes)",
  shift: "Start time in the show",
};

const settingWords = (name) => PLAIN_LABELS[name] || name.replaceAll("-", " ").replace(/^./, (letter) => letter.toUpperCase());

// Some numbers from 0 up go by words, as "off" for 0. A number's field is empty then, with the word in its place.
const wordsOf = (row) => (row.zero ? row.zero.split("|") : []);
const wordFor = (row, number) => wordsOf(row)[number] ?? String(number);
const numberFor = (row, value) => (wordsOf(row).includes(value) ? wordsOf(row).indexOf(value) : value);

class Bench {
  constructor(app, core) {
    this.app = app;
    this.storm = app.kept || new Storm(core, app.data);
    this.table = core.table().filter((row) => !FIXED.includes(row.name));
    this.inputs = new Map();
    this.chosen = null; // {key} or {index} of the event in hand
    this.#buildSettings();
    this.#listen();
    takeFresh(app.data, this.storm.cue());
    this.show();
    byId("save-folder").hidden = !canPickFolder();
    byId("bench").hidden = false;
    this.rigBench = new RigBench(this);
  }

  // ---- changing ----

  renew() {
    let fresh;
    try {
      fresh = this.storm.cue();
    } catch (problem) {
      this.storm.undo();
      this.storm.future = [];
      say(problem.message);
      byId("bench-problem").textContent = problem.message;
      byId("bench-problem").hidden = false;
      fresh = this.storm.cue();
      renewApp(this.app, fresh);
      this.show();
      return;
    }
    byId("bench-problem").hidden = true;
    renewApp(this.app, fresh);
    this.show();
    this.app.changed();
  }

  noteSaved() {
    this.storm.saved = this.storm.state;
    this.app.changed();
  }

  set(name, value, motion = null) {
    const row = this.table.find((one) => one.name === name);
    const settings = { ...this.storm.state.settings };
    if (String(value) === this.#presetOf(row)) delete settings[name];
    else settings[name] = String(value);
    this.storm.take({ ...this.storm.state, settings }, motion);
    this.renew();
  }

  #change(event, words, motion = null) {
    const entry = this.#entry();
    if (!entry) return;
    this.storm.take({ ...this.storm.state, hand: handWith(this.storm.state.hand, entry, event) }, motion);
    if (!event) this.chosen = null;
    this.renew();
    if (words) say(words);
  }

  remove() {
    const entry = this.#entry();
    if (!entry) return say("Choose a crack or a rumble first: click it in the lanes, or go to it with N or P");
    this.#change(null, `${entry.event.kind === "crack" ? "Crack" : "Rumble"} deleted. Ctrl and Z brings it back`);
  }

  addHere() {
    const at = Math.round((this.app.player.time - this.app.offset) * 1000) / 1000;
    if (at < 0 || at >= this.app.data.duration_s - 0.05) return say("There is no sound here to add a crack to");
    const event = { kind: "crack", start_s: at, end_s: at, peak_s: at, strength: 0.8, sharpness: 0.8, level_dbfs: 0, strokes: 0, path: [] };
    const { hand } = this.storm.state;
    this.storm.take({ ...this.storm.state, hand: { ...hand, added: [...hand.added, event] } });
    this.chosen = { index: hand.added.length };
    this.renew();
    say(`Crack added at ${timeText(at + this.app.offset + this.app.shift)}`);
  }

  undo() {
    if (!this.storm.undo()) return say("Nothing to undo");
    this.renew();
    say("Undone");
  }

  redo() {
    if (!this.storm.redo()) return say("Nothing to redo");
    this.renew();
    say("Redone");
  }

  // ---- the event in hand ----

  #entry() {
    const { chosen } = this;
    return chosen && this.storm.list.find(({ key, index }) => (chosen.key === undefined ? index === chosen.index : key === chosen.key));
  }

  // The crack whose light frame this is, or the rumble around it.
  chooseAt(seconds, reach = 0.5 / this.app.data.frame_rate) {
    const at = seconds - this.app.offset;
    const away = ({ event }) => Math.abs(event.start_s - at);
    const cracks = this.storm.list.filter(({ event }) => event.kind === "crack" && away({ event }) <= reach).sort((a, b) => away(a) - away(b));
    const rumbles = this.storm.list.filter(({ event }) => event.kind === "rumble" && event.start_s <= at && at < event.end_s);
    const found = cracks[0] || rumbles[0];
    this.chosen = found ? { key: found.key, index: found.index } : null;
    this.show();
  }

  #moved(event, at) {
    const by = Math.round((at - event.start_s) * 1000) / 1000;
    const plus = (seconds) => Math.round((seconds + by) * 1000) / 1000;
    return { ...event, start_s: plus(event.start_s), end_s: plus(event.end_s), peak_s: plus(event.peak_s) };
  }

  moveHere() {
    const entry = this.#entry();
    const at = Math.min(this.app.data.duration_s, Math.max(0, this.app.player.time - this.app.offset));
    if (entry && entry.event.kind === "crack") this.#change(this.#moved(entry.event, at), "Crack moved here");
  }

  setEnd(which) {
    const entry = this.#entry();
    if (!entry || entry.event.kind !== "rumble") return;
    const at = Math.round((this.app.player.time - this.app.offset) * 1000) / 1000;
    const event = { ...entry.event, [which]: at };
    if (event.end_s - event.start_s < 0.1 || event.start_s < 0) return say("A rumble lasts a tenth of a second at least");
    event.peak_s = Math.min(event.end_s, Math.max(event.start_s, event.peak_s));
    this.#change(event, which === "start_s" ? "The rumble starts here" : "The rumble ends here");
  }

  // ---- showing ----

  #presetOf(row) {
    if (row.type === "choice") return row.unit.split("|")[row.preset];
    if (row.type === "switch") return row.preset ? "on" : "off";
    return wordFor(row, row.preset);
  }

  #valueOf(row) {
    return this.storm.state.settings[row.name] ?? this.#presetOf(row);
  }

  #buildSetting(row, front) {
    const label = element("label", undefined, front ? "setting front" : "setting");
    label.title = row.help;
    const name = element("span", settingWords(row.name), "setting-name");
    let input;
    if (row.type === "choice" || row.type === "switch") {
      input = element("select");
      for (const word of row.type === "switch" ? ["off", "on"] : row.unit.split("|")) input.append(element("option", word));
      input.addEventListener("change", () => this.set(row.name, input.value));
    } else if (row.name === "flash-limit") {
      input = element("select");
      for (const word of ["1", "2", "3", "off"]) input.append(Object.assign(element("option", word === "off" ? word : `${word} ${row.unit}`), { value: word }));
      input.addEventListener("change", () => this.set(row.name, input.value));
    } else if (row.most <= 1 || row.name === "sensitivity") {
      input = element("input");
      Object.assign(input, { type: "range", min: row.least, max: row.most, step: row.name === "sensitivity" ? 1 : 0.01 });
      input.addEventListener("input", () => this.set(row.name, wordFor(row, Number(input.value)), `slide ${row.name}`));
      input.addEventListener("change", () => (this.storm.motion = null));
    } else {
      input = element("input");
      Object.assign(input, { type: "number", min: row.least, max: row.most, step: row.type === "whole" ? 1 : "any" });
      if (row.zero) label.title += ` (${wordsOf(row).map((word, k) => `${k || "empty"}: ${word}`).join(", ")})`;
      input.addEventListener("change", () => {
        const number = input.value === "" && row.zero ? 0 : input.value;
        if (number !== "" && input.checkValidity()) this.set(row.name, wordFor(row, Number(number)));
        else this.show();
      });
      input.addEventListener("blur", () => this.show());
    }
    input.id = `setting-${row.name}`;
    input.title = label.title;
    const out = element("output", "", "setting-value");
    out.hidden = input.matches("select");
    const back = element("button", "Default", "back");
    back.type = "button";
    back.setAttribute("aria-label", `${settingWords(row.name)}: back to default`);
    back.addEventListener("click", (event) => {
      event.preventDefault();
      this.set(row.name, this.#presetOf(row));
    });
    label.append(name, input, out, back);
    this.inputs.set(row.name, { row, input, out, back });
    return label;
  }

  #buildSettings() {
    for (const name of IN_FRONT) byId("bench-front").append(this.#buildSetting(this.table.find((row) => row.name === name), true));
    let topic = "";
    for (const row of this.table) {
      if (IN_FRONT.includes(row.name)) continue;
      if (row.topic !== topic) byId("bench-more").append(element("h3", topic = row.topic));
      byId("bench-more").append(this.#buildSetting(row, false));
    }
  }

  show() {
    for (const { row, input, out, back } of this.inputs.values()) {
      const value = this.#valueOf(row);
      const slides = input.type === "range";
      const word = wordsOf(row).includes(value);
      if (document.activeElement !== input || slides) input.value = slides ? numberFor(row, value) : word && input.type === "number" ? "" : value;
      if (input.type === "number") input.placeholder = word ? value : "";
      out.textContent = slides ? value : word ? "" : row.unit;
      back.hidden = value === this.#presetOf(row);
    }
    byId("undo").disabled = !this.storm.past.length;
    byId("redo").disabled = !this.storm.future.length;
    if (this.rigBench) this.rigBench.show();
    this.#showEvent();
  }

  #showEvent() {
    const entry = this.#entry();
    const { offset, shift } = this.app;
    byId("in-hand").hidden = !entry;
    byId("no-hand").hidden = Boolean(entry);
    this.app.lanes.inHand = entry ? entry.event : null;
    drawLane(this.app.lanes, "events");
    if (!entry) return;
    const { event } = entry;
    const crack = event.kind === "crack";
    byId("in-hand-name").textContent = crack ? `Crack at ${timeText(event.start_s + offset + shift)}`
      : `Rumble ${timeText(event.start_s + offset + shift)} to ${timeText(event.end_s + offset + shift)}`;
    for (const part of document.querySelectorAll("[data-for]")) part.hidden = part.dataset.for !== event.kind;
    byId("hand-strength").value = event.strength;
    byId("hand-strength-value").textContent = event.strength.toFixed(2);
    byId("hand-sharpness").value = event.sharpness;
    byId("hand-sharpness-value").textContent = event.sharpness.toFixed(2);
    byId("hand-strokes").value = event.strokes || 0;
    byId("hand-path").textContent = event.path.length ? `Path ${event.path.join(" ")}` : "";
    byId("hand-path-free").hidden = !event.path.length;
  }

  // The way from the root to a branch of the rig, as a path for the crack in hand.
  takePath(index) {
    const entry = this.#entry();
    if (!entry || entry.event.kind !== "crack") return false;
    const { channels, indexOf } = this.app;
    const path = [];
    for (let at = channels[index]; at && path.length < PATH_MOST; at = at.parent ? channels[indexOf.get(at.parent)] : null) path.unshift(at.number);
    this.#change({ ...entry.event, path }, `The crack takes the path ${path.join(" ")}`);
    return true;
  }

  #listen() {
    const click = (id, act) => byId(id).addEventListener("click", act);
    click("undo", () => this.undo());
    click("redo", () => this.redo());
    click("add-crack", () => this.addHere());
    click("hand-delete", () => this.remove());
    click("hand-move", () => this.moveHere());
    click("hand-start", () => this.setEnd("start_s"));
    click("hand-end", () => this.setEnd("end_s"));
    click("hand-path-free", () => this.#change({ ...this.#entry().event, path: [] }, "The path is drawn again"));
    const slide = (id, field) => {
      byId(id).addEventListener("input", (event) => this.#change({ ...this.#entry().event, [field]: Number(event.target.value) }, null, `slide ${id}`));
      byId(id).addEventListener("change", () => (this.storm.motion = null));
    };
    slide("hand-strength", "strength");
    slide("hand-sharpness", "sharpness");
    byId("hand-strokes").addEventListener("change", (event) => this.#change({ ...this.#entry().event, strokes: Number(event.target.value) }));
    for (const button of document.querySelectorAll("[data-save]")) button.addEventListener("click", () => save(this.app, button.dataset.save));
    document.addEventListener("keydown", (event) => {
      const typing = event.target.matches && event.target.matches("input[type=number], select");
      if ((event.ctrlKey || event.metaKey) && !event.altKey && /^[zy]$/i.test(event.key)) {
        event.preventDefault();
        if (event.key.toLowerCase() === "y" || event.shiftKey) this.redo();
        else this.undo();
      } else if (!typing && event.key === "Delete") this.remove();
      else if (!typing && !event.ctrlKey && !event.metaKey && !event.altKey && event.key.toLowerCase() === "a") this.addHere();
    }, { signal: this.app.leaving });
    byId("picture").addEventListener("click", (event) => {
      const box = byId("picture").getBoundingClientRect();
      const index = this.app.stage.branchNear(event.clientX - box.left, event.clientY - box.top);
      if (index >= 0) this.takePath(index);
    });
  }
}

// Opens the workbench where the page has all it takes; else says that the page is for looking.
async function openBench(app) {
  const core = app.data.analysis ? await pageCore() : null;
  if (app.leaving.aborted) return;
  if (!core) {
    byId("bench-closed").hidden = false;
    return;
  }
  app.bench = new Bench(app, core);
}
