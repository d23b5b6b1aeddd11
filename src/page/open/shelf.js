// The page without a storm: takes recordings (and rig, events and settings files) from the user's own disk, hears them
// one after the other, and keeps each with its own edits while another one is open. Nothing leaves the machine.

// Larger recordings are not put into a saved page but referred to.
const SOUND_IN_PAGE_BYTES = 32e6;

// A recording on the shelf: {file, title, state, share, reason, data, storm}. Its `state` is
//   waiting -> reading -> listening -> ready, or failed with a `reason`; `storm` is its workbench once it was open.
class Shelf {
  constructor() {
    this.entries = [];
    this.texts = { settings: "", rig: "" };
    this.events = new Map(); // texts of events files that wait for their recordings, by stem
    this.open = null;
    this.app = null;
    this.queue = Promise.resolve();
    this.list = new ShelfList(this);
    byId("opener").hidden = byId("shelf").hidden = false;
    document.body.classList.add("no-storm");
    document.title = "thundercue";
    this.#listen();
    this.list.show();
  }

  #listen() {
    const input = byId("open-files");
    input.addEventListener("change", () => {
      this.take([...input.files]);
      input.value = "";
    });
    const folder = byId("folder-files");
    folder.addEventListener("change", () => {
      const files = [...folder.files].filter((file) => fitsInFolder(file.name) && !/(^|\/)\./.test(file.webkitRelativePath));
      if (files.length) this.take(files);
      else this.list.problem("There is no recording in that folder that this page knows.");
      folder.value = "";
    });
    byId("open-folder").addEventListener("click", () => folder.click());
    byId("shelf-add").addEventListener("click", () => input.click());
    byId("shelf-save").addEventListener("click", () => this.save("zip"));
    byId("shelf-folder").addEventListener("click", () => this.save("folder"));
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", async (event) => {
      event.preventDefault();
      try {
        this.take(await droppedFiles(event.dataTransfer));
      } catch {
        this.list.problem("This browser can't read what was dropped; choose the files or the folder with the buttons.");
      }
    });
    window.addEventListener("beforeunload", (event) => this.entries.some((entry) => entry.storm && entry.storm.unsaved) && event.preventDefault());
  }

  // ---- taking files ----

  async take(files) {
    this.list.problem("");
    const of = (kind) => files.filter((file) => kindOfFile(file.name) === kind);
    const recordings = of("recording");
    for (const kind of ["rig", "settings"]) for (const file of of(kind)) await this.#takeText(kind, file);
    for (const file of of("events")) await this.#takeEvents(file, recordings);
    const fresh = recordings.map((file) => ({ file, state: "waiting", share: null, reason: "" }));
    this.entries.push(...fresh);
    this.#name();
    this.list.show();
    for (const entry of fresh) this.queue = this.queue.then(() => this.#hear(entry));
  }

  #name() {
    const titles = tellApart(this.entries.map(({ file }) => file.name));
    this.entries.forEach((entry, i) => {
      entry.title = titles[i];
      if (entry.data) entry.data.title = titles[i];
    });
    if (this.app) showTitle(this.app);
  }

  // A rig or settings file: for the recordings to come, and for those that are here.
  async #takeText(kind, file) {
    try {
      const text = await file.text();
      this.checker ??= await Core.open(byId("core-data").textContent);
      if (this.checker) this.checker[kind](text);
      this.texts[kind] = text;
      this.list.note(kind, file.name);
      await this.#renewAll((storm, entry) => this.#takeInto(entry, storm, kind, text));
    } catch (problem) {
      this.#leaveOut(file, problem);
    }
  }

  // The library calls a file by its kind.
  #leaveOut(file, { message }) {
    const words = message.replace(/^(rig|settings|events)(?=:)/, "").replace(/^(?!:)/, ": ").replace(/(?<![.?])$/, ".");
    this.list.problem(`${plainText(file.name)}${words} It is left out.`);
  }

  // The rig of the open storm, for the other recordings and for those to come.
  async takeRig(text, name) {
    this.texts.rig = text;
    this.list.note("rig", name);
    await this.#renewAll((storm) => storm.state.rig === text || storm.takeText("rig", text));
  }

  // Another rate of light frames takes another hearing.
  async #takeInto(entry, storm, kind, text) {
    const settings = kind === "settings" ? storm.core.settings(text) : storm.state.settings;
    if (settings["frame-rate"] === storm.frameRate) return storm.takeText(kind, text);
    const take = await hearAgain(new Hearing(), storm, entry.file, settings, () => {});
    if (take) take();
  }

  async #takeEvents(file, recordings) {
    const stem = eventsStemOf(file.name);
    const text = await file.text();
    try {
      this.checker ??= await Core.open(byId("core-data").textContent);
      if (this.checker) this.checker.eventsFile(text);
    } catch (problem) {
      this.#leaveOut(file, problem);
      return;
    }
    const fits = (name) => stemOf(name) === stem;
    const here = this.entries.filter((entry) => fits(entry.file.name) && entry.state !== "failed");
    const lone = recordings.length === 1 ? recordings : [];
    if (!here.length && !recordings.some(({ name }) => fits(name)) && lone.length) this.events.set(stemOf(lone[0].name), text);
    else if (!here.length && !recordings.length && this.entries.length === 1) here.push(this.entries[0]);
    else this.events.set(stem, text);
    this.list.note("events", file.name);
    for (const entry of here.filter(({ state }) => state === "ready")) {
      try {
        await this.#renew(entry, (storm) => storm.takeEventsFile(text));
      } catch (problem) {
        this.list.problem(`${plainText(file.name)}${problem.message.replace(/^events/, "")}`);
      }
    }
  }

  async #renewAll(change) {
    for (const entry of this.entries) if (entry.state === "ready") await this.#renew(entry, change);
  }

  async #renew(entry, change) {
    const storm = await this.#stormOf(entry);
    await change(storm, entry);
    if (entry === this.open && this.app.bench) return this.app.bench.renew();
    takeFresh(entry.data, storm.cue());
    this.list.show(entry);
  }

  // ---- hearing, one after the other ----

  async #hear(entry) {
    if (entry.gone) return;
    const { file } = entry;
    const tell = (share) => {
      Object.assign(entry, { state: share === null ? "reading" : "listening", share });
      this.list.show(entry);
    };
    try {
      entry.hearing = new Hearing();
      const events = this.events.get(stemOf(file.name)) || "";
      const data = await entry.hearing.hear(file, { ...this.texts, events }, tell);
      if (!data) return;
      const embedded = file.size <= SOUND_IN_PAGE_BYTES;
      Object.assign(data, { recording: file.name, command: "" }); // told when the storm is cued here
      data.sound = { ...data.sound, kind: embedded ? "embedded" : "file", own: embedded, type: embedded ? soundType(file) : "", src: embedded ? "" : `./${encodeURIComponent(file.name).replace(/[!'()*]/g, (letter) => `%${letter.charCodeAt(0).toString(16).toUpperCase()}`)}` };
      data.title = entry.title;
      Object.assign(entry, { state: "ready", data, byEvents: Boolean(events) });
    } catch (problem) {
      Object.assign(entry, { state: "failed", reason: problem.message });
      say(`${plainText(file.name)}: ${problem.message}`);
    }
    entry.hearing = null;
    this.list.show();
    if (entry.state === "ready" && !this.open) await this.show(entry);
  }

  // ---- one of them at a time is open ----

  async #stormOf(entry) {
    entry.storm ??= new Storm(await pageCore(), entry.data);
    return entry.storm;
  }

  async show(entry) {
    if (await pageCore()) takeFresh(entry.data, (await this.#stormOf(entry)).cue());
    const dials = this.app ? dialsOf(this.app) : null;
    const at = window.scrollY;
    if (this.app) closeStorm(this.app);
    this.open = entry;
    byId("opener").hidden = true;
    document.body.classList.remove("no-storm");
    this.app = startStorm(entry.data, { file: entry.file, kept: entry.storm || null, changed: () => this.list.show(entry),
      rigForAll: (text, name) => this.takeRig(text, name) });
    if (dials) setDials(this.app, dials);
    window.scrollTo(0, at);
    await this.app.opened;
    this.list.show();
  }

  async choose(entry) {
    if (entry === this.open || entry.state !== "ready") return;
    await this.show(entry);
    say(`${plainText(entry.title)} is open`);
    this.list.focus(entry);
  }

  // Cancels what is being heard, and takes away what was.
  async remove(entry) {
    entry.gone = true;
    if (entry.hearing) entry.hearing.stop();
    const at = this.entries.indexOf(entry);
    this.entries.splice(at, 1);
    this.#name();
    say(`${plainText(entry.file.name)} removed`);
    if (entry === this.open) {
      closeStorm(this.app);
      this.open = this.app = null;
      const next = this.entries.slice(at).concat(this.entries.slice(0, at).reverse()).find(({ state }) => state === "ready");
      if (next) await this.show(next);
      else {
        byId("opener").hidden = false;
        document.body.classList.add("no-storm");
        document.title = "thundercue";
      }
    }
    this.list.show();
    this.list.focus(this.entries[Math.min(at, this.entries.length - 1)]);
  }

  // ---- saving all ----

  async save(how) {
    const ready = this.entries.filter(({ state }) => state === "ready");
    if (!ready.length) return;
    const files = [];
    for (const entry of ready) {
      const storm = await this.#stormOf(entry);
      const sound = entry.data.sound.kind === "embedded" ? base64Of(new Uint8Array(await entry.file.arrayBuffer())) : "";
      files.push(...Object.values(filesOf(storm, entry.data, sound)));
    }
    if (!(await saveOut(files, how, "storms.zip"))) return;
    for (const { storm } of ready) storm.saved = storm.state;
    this.list.show();
  }
}
