// Hearing a recording: the browser reads the sound, the library listens to it in a worker, so that the page stays alive.

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
      core.cue(CUE_WHOLE);
      postMessage({ data: core.text("data") });
    } catch (problem) {
      postMessage({ problem: problem.message });
    }
  };
  return [`"use strict"; const CORE_TEXTS = ${JSON.stringify(CORE_TEXTS)}, PATH_MOST = ${PATH_MOST}, CUE_WHOLE = ${CUE_WHOLE};`, `const NO_SYSTEM = (${noSystem})();`,
    bytesOf, eventOf, Core, `onmessage = ${work};`].join("\n");
}

// What browsers take as one piece of memory.
const MOST_BYTES = 2e9;

// Hears a storm's recording again for other settings: the step that brings it into the storm, or null if it was stopped.
async function hearAgain(hearing, storm, recording, settings, tell) {
  const data = await hearing.hear(recording, { settings: storm.lines(settings), rig: storm.state.rig, events: "" }, tell);
  return data && (() => storm.takeHeard(data, settings));
}

class Hearing {
  #worker = null;
  #stopped = false;

  // Hears `file` with `texts` {settings, rig, events}; returns the data of its storm. `tell` is called with the share
  // that is done, null while the browser reads the file. Once stopped it returns null.
  async hear(file, texts, tell) {
    tell(null);
    if (file.size > MOST_BYTES) throw new Error("it is larger than what a browser can hold; the program itself takes it");
    const buffer = await file.arrayBuffer().catch(() => {
      throw new Error("it can't be read from the disk; is it still there?");
    });
    if (this.#stopped) return null;
    let sound;
    try {
      sound = await readSound(buffer);
    } catch {
      if (/\.html?$/i.test(file.name)) throw new Error("it is a page: open it in the browser by itself, and mend its storm there");
      const [, ending] = file.name.match(/\.(wav|flac|ogg|opus|mp3|aiff?|m4a)$/i) || [];
      throw new Error(ending ? `this browser can't read it as sound: the file is damaged, or not really ${ending.toUpperCase()}`
        : "this browser can't read it as sound; WAV, FLAC, Ogg or MP3 would be right");
    }
    if (this.#stopped) return null;
    if (!sound.channels[0].length) throw new Error("there is no sound in it");
    tell(0);
    const data = await this.#listen({ wasm: byId("core-data").textContent, ...texts, ...sound }, tell);
    return data && takeEvents(JSON.parse(data));
  }

  #listen(job, tell) {
    return new Promise((done, fail) => {
      const source = URL.createObjectURL(new Blob([workerSource()], { type: "text/javascript" }));
      this.#worker = new Worker(source);
      const end = (settle, with_) => {
        this.#worker.terminate();
        URL.revokeObjectURL(source);
        settle(with_);
      };
      this.stop = () => end(done, null);
      this.#worker.onerror = () => end(fail, new Error("the worker that listens can't start"));
      this.#worker.onmessage = ({ data }) => {
        if (data.share !== undefined) return tell(data.share);
        if (data.problem) end(fail, new Error(data.problem));
        else end(done, data.data);
      };
      this.#worker.postMessage(job, job.channels.map((samples) => samples.buffer));
    });
  }

  stop() {
    this.#stopped = true;
  }
}
