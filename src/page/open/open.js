// The page without a storm: takes a recording (and a rig, events or settings file) from the user's own disk, listens to
// it in a worker, and starts as a page of that storm. Nothing leaves the machine.

// Larger recordings are not put into a saved page but referred to.
const SOUND_IN_PAGE_BYTES = 32e6;

// What the worker runs: the core alone, told what to do in one message.
function workerSource() {
  const work = async ({ data: { wasm, settings, rig, events, rate, channels } }) => {
    try {
      const core = await Core.open(wasm);
      if (!core) throw new Error("this browser can't run the library (WebAssembly is off)");
      core.settings(settings);
      core.rig(rig);
      core.listen(rate, channels, (share) => postMessage({ share }));
      if (events) core.eventsFile(events);
      core.cue();
      postMessage({ data: core.text("data") });
    } catch (problem) {
      postMessage({ problem: problem.message });
    }
  };
  return [`"use strict"; const CORE_TEXTS = ${JSON.stringify(CORE_TEXTS)}, PATH_MOST = ${PATH_MOST};`, `const NO_SYSTEM = (${noSystem})();`,
    bytesOf, eventOf, Core, `onmessage = ${work};`].join("\n");
}

function listenTo(job, progress) {
  return new Promise((done, fail) => {
    const worker = new Worker(URL.createObjectURL(new Blob([workerSource()], { type: "text/javascript" })));
    worker.onerror = () => fail(new Error("the worker that listens can't start"));
    worker.onmessage = ({ data }) => {
      if (data.share !== undefined) return progress(data.share);
      worker.terminate();
      if (data.problem) fail(new Error(data.problem));
      else done(data.data);
    };
    worker.postMessage(job, job.channels.map((samples) => samples.buffer));
  });
}

function base64Of(bytes) {
  const lines = [];
  for (let i = 0; i < bytes.length; i += 3072) lines.push(btoa(String.fromCharCode(...bytes.subarray(i, i + 3072))));
  return lines.join("\n");
}

const kindOfFile = (name) => (/\.(rig|ini)$/i.test(name) ? "rig" : /\.settings$/i.test(name) ? "settings" : /\.csv$/i.test(name) ? "events" : "recording");

class Opener {
  constructor() {
    this.files = {};
    byId("opener").hidden = false;
    document.body.classList.add("no-storm");
    document.title = "thundercue";
    byId("open-files").addEventListener("change", (event) => this.take([...event.target.files]));
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      if (document.body.classList.contains("no-storm")) this.take([...event.dataTransfer.files]);
    });
  }

  async take(files) {
    const problem = byId("open-problem");
    problem.hidden = true;
    const recordings = files.filter((file) => kindOfFile(file.name) === "recording");
    if (recordings.length > 1) {
      problem.textContent = "One recording at a time, please: each is a storm of its own.";
      problem.hidden = false;
      return;
    }
    for (const file of files) this.files[kindOfFile(file.name)] = file;
    byId("open-list").replaceChildren(...Object.values(this.files).map((file) => element("li", shownText(file.name), "plain")));
    if (!this.files.recording) return;
    byId("open-progress").hidden = false;
    try {
      await this.#open();
    } catch (error) {
      problem.textContent = `${plainText(this.files.recording.name)}: ${error.message}`;
      problem.hidden = false;
      byId("open-progress").hidden = true;
      delete this.files.recording;
    }
  }

  async #open() {
    const { recording, rig, events, settings } = this.files;
    const textOf = async (file) => (file ? await file.text() : "");
    const buffer = await recording.arrayBuffer();
    let sound;
    try {
      sound = await readSound(buffer);
    } catch {
      throw new Error("this browser can't read it as sound; WAV, FLAC, Ogg or MP3 would be right");
    }
    const text = await listenTo({ wasm: byId("core-data").textContent, settings: await textOf(settings), rig: await textOf(rig),
      events: await textOf(events), rate: sound.rate, channels: sound.channels }, (share) => (byId("open-progress").value = share));
    const data = JSON.parse(text);
    const embedded = buffer.byteLength <= SOUND_IN_PAGE_BYTES;
    data.title = recording.name.replace(/\.[^.]*$/, "");
    data.recording = recording.name;
    data.sound = { ...data.sound, kind: embedded ? "embedded" : "file", type: embedded ? recording.type : "", src: embedded ? "" : encodeURIComponent(recording.name) };
    if (embedded) byId("sound-data").textContent = `\n${base64Of(new Uint8Array(buffer))}\n`;
    byId("opener").hidden = true;
    document.body.classList.remove("no-storm");
    startStorm(data);
  }
}
