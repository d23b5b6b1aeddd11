// The workbench: settings, the crack or rumble in hand, undo and save. Every change cues the storm anew.

// Cueing that takes longer than this is felt under a moving hand.
const LONG_MS = 120;

class Bench {
  constructor(app, core) {
    this.app = app;
    this.storm = app.kept || new Storm(core, app.data);
    this.table = core.table();
    this.hand = new Hand(this);
    this.form = new SettingsForm(this);
    this.#listen();
    takeFresh(app.data, this.storm.cue());
    this.show();
    byId("save-folder").hidden = !canPickFolder();
    byId("bench").hidden = byId("bench-below").hidden = byId("hint-carry").hidden = false;
    this.rigBench = new RigBench(this);
  }

  // The recording itself, where this page has it as it was: then it can be heard again. Else null.
  get recording() {
    const { data, file } = this.app;
    if (file) return file;
    return data.sound.own ? new Blob([bytesOf(byId("sound-data").textContent)], { type: data.sound.type }) : null;
  }

  // ---- changing ----

  tell(problem) {
    say(problem);
    byId("bench-problem").textContent = problem;
    byId("bench-problem").hidden = !problem;
  }

  // Under a moving hand: where cueing takes long, once for all steps that have come in meanwhile.
  renewSoon() {
    if (this.storm.tookMs < LONG_MS) return this.renew();
    this.soon ??= setTimeout(() => this.renew(), 0);
  }

  // Under a hand that shows where it is by itself: where cueing takes long, not before the hand lets go.
  renewAtRest() {
    if (this.storm.tookMs < LONG_MS) this.renew();
    else this.stale = true;
  }

  // Before anything looks at the files.
  settle() {
    if (this.soon || this.stale) this.renew();
  }

  renew() {
    clearTimeout(this.soon);
    this.soon = null;
    this.stale = false;
    let fresh;
    try {
      fresh = this.storm.cue();
      byId("bench-problem").hidden = true;
    } catch (problem) {
      this.storm.undo();
      this.storm.future = [];
      this.tell(problem.message);
      fresh = this.storm.cue();
    }
    renewApp(this.app, fresh);
    this.show();
    this.app.changed();
  }

  set(name, value, motion = null) {
    const row = this.table.find((one) => one.name === name);
    const settings = { ...this.storm.state.settings };
    if (String(value) === presetOf(row)) delete settings[name];
    else settings[name] = String(value);
    if (name === "frame-rate") {
      this.hearAgain(settings, `${value} light frames a second`);
      return;
    }
    this.storm.take({ ...this.storm.state, settings }, motion);
    if (motion) this.renewSoon();
    else this.renew();
  }

  // The loudness is measured once for each light frame, so that another rate takes another hearing.
  async hearAgain(settings, words) {
    if (!this.recording || this.hearing) return this.show();
    const busy = byId("bench-busy");
    this.hearing = new Hearing();
    this.app.leaving.addEventListener("abort", () => this.hearing && this.hearing.stop());
    try {
      const take = await hearAgain(this.hearing, this.storm, this.recording, settings, (share) => {
        busy.hidden = false;
        busy.textContent = `Listening again for ${words}: ${Math.round(100 * (share || 0))} %`;
      });
      if (!take || this.app.leaving.aborted) return;
      take();
      this.renew();
      say(`Heard again for ${words}`);
    } catch (problem) {
      this.tell(problem.message);
      this.show();
    } finally {
      this.hearing = null;
      busy.hidden = true;
    }
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

  noteSaved() {
    this.storm.saved = this.storm.state;
    this.app.changed();
  }

  show() {
    this.form.show();
    byId("undo").disabled = !this.storm.past.length;
    byId("redo").disabled = !this.storm.future.length;
    if (this.rigBench) this.rigBench.show();
    this.hand.show();
  }

  #listen() {
    const click = (id, act) => byId(id).addEventListener("click", act);
    click("undo", () => this.undo());
    click("redo", () => this.redo());
    for (const button of document.querySelectorAll("[data-save]")) button.addEventListener("click", () => save(this.app, button.dataset.save));
    window.addEventListener("beforeunload", (event) => this.storm.unsaved && event.preventDefault(), { signal: this.app.leaving });
    const keys = { Delete: () => this.hand.remove(), a: () => this.hand.add(), r: (event) => this.hand.toRumble(event.shiftKey ? -1 : 1),
      // By their places: with Shift they are other letters on every keyboard.
      Comma: (event) => this.hand.nudge(event.shiftKey ? -10 * NUDGE_S : -NUDGE_S), Period: (event) => this.hand.nudge(event.shiftKey ? 10 * NUDGE_S : NUDGE_S) };
    document.addEventListener("keydown", (event) => {
      const plain = !event.ctrlKey && !event.metaKey && !event.altKey;
      if ((event.ctrlKey || event.metaKey) && !event.altKey && /^[zy]$/i.test(event.key)) {
        event.preventDefault();
        if (event.key.toLowerCase() === "y" || event.shiftKey) this.redo();
        else this.undo();
        return;
      }
      if (!plain || (event.target.matches && event.target.matches("input[type=number], input[type=text], select, textarea"))) return;
      const act = keys[event.code] || keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
      if (act) act(event);
    }, { signal: this.app.leaving });
  }
}

// Why a page has no workbench.
function whyClosed({ data }) {
  if (data.closed) return data.closed;
  if (!byId("core-data").textContent.trim()) return "the program that wrote it was built without the tools for changing storms in the page (make setup-wasm installs them)";
  return "this browser can't run the library, which takes WebAssembly";
}

// Opens the workbench where the page has all it takes; else says that the page is for looking.
async function openBench(app) {
  const core = app.data.analysis ? await pageCore() : null;
  if (app.leaving.aborted) return;
  if (!core) {
    byId("bench-closed").textContent = `This page is for looking and listening: ${whyClosed(app)}.`;
    byId("bench-closed").hidden = false;
    return;
  }
  app.bench = new Bench(app, core);
}
