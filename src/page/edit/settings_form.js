// The settings on the workbench: sliders, numbers and choices made from the library's own table.

// Settings to taste that stand in front; the others are folded away.
const IN_FRONT = ["sensitivity", "strength", "flood-share", "rumble-light", "fork-share", "weakest-light"];

// Some numbers from 0 up go by words, as "off" for 0. A number's field is empty then, with the word in its place.
const wordsOf = (row) => (row.zero ? row.zero.split("|") : []);
const wordFor = (row, number) => wordsOf(row)[number] ?? String(number);
const numberFor = (row, value) => (wordsOf(row).includes(value) ? wordsOf(row).indexOf(value) : value);

function presetOf(row) {
  if (row.type === "choice") return row.unit.split("|")[row.preset];
  if (row.type === "switch") return row.preset ? "on" : "off";
  return wordFor(row, row.preset);
}

// Each kind of control: {parts, show(value)}; `set(value, motion)` takes what was chosen.
const CONTROLS = {
  choice(row, set) {
    const input = element("select");
    const words = row.type === "switch" ? ["off", "on"] : row.type === "choice" ? row.unit.split("|") : ["1", "2", "3", "off"];
    for (const word of words)
      input.append(Object.assign(element("option", valueWords(row.name, word, "")), { value: word }));
    input.addEventListener("change", () => set(input.value));
    return { input, parts: [input], show: (value) => (input.value = value) };
  },

  slider(row, set, done) {
    const input = element("input");
    const out = element("output", "", "setting-value");
    Object.assign(input, { type: "range", min: row.least, max: row.most, step: row.name === "sensitivity" ? 1 : 0.01 });
    input.addEventListener("input", () => set(wordFor(row, Number(input.value)), `slide ${row.name}`));
    input.addEventListener("change", done);
    return { input, parts: [input, out], show(value) {
      input.value = numberFor(row, value);
      out.textContent = value;
    } };
  },

  number(row, set, done, again) {
    const input = element("input");
    const out = element("output", "", "setting-value");
    Object.assign(input, { type: "number", min: row.least, max: row.most, step: row.type === "whole" ? 1 : "any" });
    input.addEventListener("change", () => {
      const number = input.value === "" && row.zero ? 0 : input.value;
      if (number !== "" && input.checkValidity()) set(wordFor(row, Number(number)));
      else again();
    });
    input.addEventListener("blur", again);
    return { input, parts: [input, out], show(value) {
      const word = wordsOf(row).includes(value);
      if (document.activeElement !== input) input.value = word ? "" : value;
      input.placeholder = word ? value : "";
      out.textContent = word ? "" : unitOf(row.name, row.unit);
    } };
  },

  // The columns of frames.csv: the rig's own, or every output, at least up to a number.
  outputs(row, set, done, again) {
    const box = element("span", undefined, "setting-outputs");
    const label = element("label", undefined, "check");
    const input = Object.assign(element("input"), { type: "checkbox", id: "setting-outputs" });
    label.append(input, element("span", "every output"));
    const most = Object.assign(element("input"), { type: "number", min: 2, max: row.most, step: 1, placeholder: "all", id: "setting-outputs-most", title: `${row.help} [--${row.name}]` });
    most.setAttribute("aria-label", "Every output, at least up to number");
    input.addEventListener("change", () => set(input.checked ? "all" : "rig"));
    most.addEventListener("change", () => {
      if (most.checkValidity()) set(most.value === "" ? "all" : most.value);
      else again();
    });
    box.append(label, element("span", "up to"), most);
    return { input, parts: [box], show(value) {
      input.checked = value !== "rig";
      most.disabled = value === "rig";
      if (document.activeElement !== most || value === "rig") most.value = wordsOf(row).includes(value) ? "" : value;
    } };
  },
};

function controlOf(row) {
  if (row.name === "outputs") return CONTROLS.outputs;
  if (row.type === "choice" || row.type === "switch" || row.name === "flash-limit") return CONTROLS.choice;
  return row.most <= 1 || row.name === "sensitivity" ? CONTROLS.slider : CONTROLS.number;
}

class SettingsForm {
  constructor(bench) {
    this.bench = bench;
    this.made = new Map();
    for (const name of IN_FRONT) byId("bench-front").append(this.#build(bench.table.find((row) => row.name === name), true));
    let topic = "";
    for (const row of bench.table) {
      if (IN_FRONT.includes(row.name)) continue;
      if (row.topic !== topic) byId("bench-more").append(element("h3", topic = row.topic));
      byId("bench-more").append(this.#build(row, false));
    }
  }

  #build(row, front) {
    const { storm } = this.bench;
    // A group of two controls is named by its first; all others stand in their label.
    const box = element(row.name === "outputs" ? "div" : "label", undefined, front ? "setting front" : "setting");
    const control = controlOf(row)(row, (value, motion) => this.bench.set(row.name, value, motion), () => (storm.motion = null), () => this.show());
    const words = wordsOf(row).length && control.input.type === "number" ? ` (${wordsOf(row).map((word, k) => `${k || "empty"}: ${word}`).join(", ")})` : "";
    box.title = control.input.title = `${row.help}${words} [--${row.name}]`;
    control.input.id = `setting-${row.name}`;
    const back = element("button", "Default", "back");
    back.type = "button";
    back.setAttribute("aria-label", `${settingWords(row.name)}: back to default`);
    back.addEventListener("click", (event) => {
      event.preventDefault();
      this.bench.set(row.name, presetOf(row));
    });
    box.append(element("span", settingWords(row.name), "setting-name"), ...control.parts, back);
    if (row.name === "frame-rate" && !this.bench.recording) {
      control.input.disabled = true;
      box.title = control.input.title = "The loudness was measured for this many light frames. To change it, the recording must be heard again: open it in thundercue.html";
    }
    this.made.set(row.name, { row, control, back });
    return box;
  }

  show() {
    for (const { row, control, back } of this.made.values()) {
      const value = this.bench.storm.state.settings[row.name] ?? presetOf(row);
      control.show(value);
      back.hidden = value === presetOf(row) || control.input.disabled;
    }
  }
}
