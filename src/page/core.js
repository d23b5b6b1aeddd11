// The library inside the page: the same C sources as the program's, compiled to WebAssembly. core.c is the other side of
// this door; texts come out of it as bytes, the very bytes that the program would write.

const CORE_TEXTS = { problem: 0, data: 1, events: 2, frames: 3, ramps: 4, settings: 5, table: 6, chosen: 7, rig: 9, kept: 11 };
const PATH_MOST = 16;
const STEPS_A_SECOND = 200;
// What cueing makes besides: the two long files, and the data as a page carries it.
const CUE_FILES = 1;
const CUE_WHOLE = 2;

// What the C library below the core asks of a system: there is none here, so nothing can be opened or written.
function noSystem() {
  return { wasi_snapshot_preview1: { fd_close: () => 8, fd_seek: () => 8, fd_write: () => 8 } };
}
const NO_SYSTEM = noSystem();

class Core {
  constructor(instance) {
    this.c = instance.exports;
    this.c._initialize();
  }

  // Null where the page has no core, or the browser can't run it.
  static async open(base64) {
    if (!base64.trim() || typeof WebAssembly !== "object") return null;
    try {
      const { instance } = await WebAssembly.instantiate(bytesOf(base64), NO_SYSTEM);
      return new Core(instance);
    } catch {
      return null;
    }
  }

  // Lends bytes to a call; the status that it returns is 0 if all is well.
  #lend(bytes, call) {
    const at = this.c.core_new(bytes.length);
    if (!at) throw new Error("out of memory");
    new Uint8Array(this.c.memory.buffer, at, bytes.length).set(bytes);
    const status = call(at, bytes.length);
    this.c.core_free(at);
    if (status) throw new Error(this.text("problem"));
  }

  bytes(name) {
    const which = CORE_TEXTS[name];
    return new Uint8Array(this.c.memory.buffer, this.c.core_text(which), this.c.core_size(which)).slice();
  }

  text(name) {
    return new TextDecoder().decode(this.bytes(name));
  }

  // `lines` as in a settings file; what it doesn't name has its default. Returns {name: value} of what differs from that.
  settings(lines) {
    this.#lend(new TextEncoder().encode(lines), (at, size) => this.c.core_settings(at, size));
    return Object.fromEntries(this.text("settings").split("\n").filter(Boolean).map((line) => line.split(" = ")));
  }

  // A rig file; "" is the built-in rig. text("rig") is what the library writes of it.
  rig(lines) {
    if (lines === this.rigTaken) return;
    this.#lend(new TextEncoder().encode(lines), (at, size) => this.c.core_rig(at, size));
    this.rigTaken = lines;
  }

  // The rig that is there in the text of the rig file that it came from: {text, kept}. One that isn't kept is written anew,
  // without comments.
  rigInto(lines) {
    this.#lend(new TextEncoder().encode(lines), (at, size) => this.c.core_rig_keep(at, size));
    return { text: this.text("kept"), kept: Boolean(this.c.core_rig_kept()) };
  }

  analysis(bytes) {
    this.#lend(bytes, (at, size) => this.c.core_analysis(at, size));
  }

  table() {
    if (this.c.core_table()) throw new Error(this.text("problem"));
    return JSON.parse(this.text("table"));
  }

  // The events that count at the settings' sensitivity.
  choose() {
    if (this.c.core_choose()) throw new Error(this.text("problem"));
    return JSON.parse(this.text("chosen")).map(eventOf);
  }

  events(events) {
    const ms = (seconds) => Math.round(seconds * 1000);
    const rows = new Float64Array((9 + PATH_MOST) * events.length);
    events.forEach((event, i) => rows.set([event.kind === "rumble" ? 1 : 0, ms(event.start_s), ms(event.end_s), ms(event.peak_s),
      event.strength, event.sharpness, event.level_dbfs, event.strokes || 0, (event.path || []).length, ...(event.path || [])], i * (9 + PATH_MOST)));
    this.#lend(new Uint8Array(rows.buffer), (at) => this.c.core_events(at, events.length));
  }

  // The overview, as the page shows it, of the analysis that the core has.
  overview({ wave, bands }) {
    const head = new Uint32Array([wave.count, Math.round(wave.seconds_each * STEPS_A_SECOND), bands.hz.length]);
    const parts = [new Uint8Array(head.buffer), bytesOf(wave.peak), bytesOf(bands.data)];
    const all = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
    parts.reduce((at, part) => (all.set(part, at), at + part.length), 0);
    this.#lend(all, (at, size) => this.c.core_overview(at, size));
  }

  // What a page says of itself that cueing doesn't know, in the order of core.c's enum about.
  about(texts) {
    this.#lend(new TextEncoder().encode(texts.map((text) => `${String(text).replaceAll("\0", "")}\0`).join("")), (at, size) => this.c.core_about(at, size));
  }

  // Cues the storm and returns the page's data of it; `more` says what else is made.
  cue(more = 0) {
    if (this.c.core_cue(more)) throw new Error(this.text("problem"));
    return JSON.parse(this.text("data"));
  }

  // An events file in the place of what was heard.
  eventsFile(text) {
    this.#lend(new TextEncoder().encode(text), (at, size) => this.c.core_events_file(at, size));
  }

  // Hears a recording whose channels come as arrays of samples.
  listen(rate, channels, progress = () => {}) {
    const block = 65536;
    if (this.c.core_listen(rate, channels.length)) throw new Error(this.text("problem"));
    const at = this.c.core_new(4 * block * channels.length);
    for (let from = 0; from < channels[0].length; from += block) {
      const count = Math.min(block, channels[0].length - from);
      const room = new Float32Array(this.c.memory.buffer, at, count * channels.length);
      channels.forEach((samples, c) => {
        for (let i = 0; i < count; i++) room[i * channels.length + c] = samples[from + i];
      });
      if (this.c.core_push(at, count)) throw new Error(this.text("problem"));
      progress((from + count) / channels[0].length);
    }
    this.c.core_free(at);
    if (this.c.core_heard()) throw new Error(this.text("problem"));
  }
}

// The page's one core; a core has one storm at a time.
let coreOfPage = null;
function pageCore() {
  coreOfPage ??= Core.open(byId("core-data").textContent);
  return coreOfPage;
}

// An event as the data has it: a list of numbers.
function eventOf([kind, start_s, end_s, peak_s, strength, sharpness, level_dbfs, strokes = 0, path = []]) {
  return { kind: kind ? "rumble" : "crack", start_s, end_s, peak_s, strength, sharpness, level_dbfs, strokes, path };
}
