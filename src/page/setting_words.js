// The settings in plain words. Their names, bounds and sentences come from the library's own table; here stands what a
// name alone doesn't tell somebody new, and how values read.

const PLAIN_LABELS = {
  "frame-rate": "Light frames a second",
  levels: "Levels in the files",
  outputs: "Columns of the light frames",
  lead: "Light leads the sound by",
  distance: "Lightning is away",
  temperature: "Air temperature",
  from: "Leave out before",
  to: "Leave out from",
  shift: "Start time in the show",
  "flash-limit": "Flashes in a second, at most",
  loop: "The show will be repeated",
  strength: "Brightness of strokes",
  "stroke-stop": "Chance it ends after each stroke",
  interval: "Time between strokes",
  "heard-within": "Count echoes within",
  "new-path": "Chance of a new branch (2nd stroke)",
  "later-path": "Chance of a new branch (later strokes)",
  seed: "Draw number",
};

const VALUE_WORDS = {
  levels: { percent: "percent", "8bit": "0 to 255" },
  outputs: { rig: "the rig's channels", all: "every output" },
};

// Their labels say what is counted.
const UNIT_IN_LABEL = ["frame-rate", "flash-limit"];

const unitOf = (name, unit) => (UNIT_IN_LABEL.includes(name) ? "" : unit.replace("deg C", "\u00b0C"));

const settingWords = (name) => PLAIN_LABELS[name] || name.replaceAll("-", " ").replace(/^./, (letter) => letter.toUpperCase());

function valueWords(name, value, unit) {
  const word = (VALUE_WORDS[name] || {})[value];
  if (word) return word;
  if (name === "outputs") return `every output up to ${value}`;
  return [value, unitOf(name, unit)].filter(Boolean).join(" ");
}
