// The rig on the workbench: what somebody changes goes to the library as a rig file; what it refuses is said at the field
// and leaves the rig as it was. All changes go through the storm's history.

// How fields are called where the library's words name a key.
const KEY_WORDS = new Map([["min_level", "lights from"], ["max_level", "brightest at"], ["breaker_amps", "breaker"], ["mains_volts", "mains"],
  ["mains_hz", "frequency"], ["parent", "grows from"], ["rise_ms", "rises in"], ["fall_ms", "falls in"], ["lead_ms", "lead"], ["max_amps", "output"]]);

// What the library says of a rig, without the line of a file that nobody has seen.
const plainProblem = (message) => message.replace(/^rig:(\d+: )?/, "").replace(/\b[a-z]+_?[a-z]+\b/g, (word) => KEY_WORDS.get(word) || word);

const CHANNEL_FIELDS = [
  { key: "name", label: "Name" },
  { key: "number", label: "Channel", number: true, help: "its number on the dimmer" },
  { key: "kind", label: "Kind", options: true },
  { key: "parent", label: "Grows from", options: true, help: "the branch that it forks from" },
  { key: "watts", label: "Watts", unit: "W", number: true, help: "nameplate of all lamps on this channel" },
  { key: "circuit", label: "Circuit", options: true, help: "what one breaker feeds" },
  { key: "curve", label: "Curve", options: true, preset: "linear", help: "how level becomes light" },
  { key: "min_level", label: "Lights from", unit: "%", number: true, preset: "0", help: "the level at which the lamp first lights" },
  { key: "max_level", label: "Brightest at", unit: "%", number: true, preset: "100", help: "the level beyond which it gets no brighter" },
  { key: "slot", label: "Slot", number: true, help: "on the light network; empty: after the channel's number" },
  { key: "x", label: "From the left", unit: "%", number: true, place: true, help: "where its lower end hangs, or where it stands, in the picture" },
  { key: "y", label: "Height", unit: "%", number: true, place: true, help: "how high its lower end hangs, or how high it stands, in the picture" },
  // Folded away.
  { key: "lamp", label: "Lamp", options: true, preset: "led", more: true, help: "incandescent lamps are slow: they get fewer, longer pulses" },
  { key: "lumens", label: "Lumens", unit: "lm", number: true, more: true, help: "light counts by watts, unless every channel tells its lumens" },
  { key: "rise_ms", label: "Rises in", unit: "ms", number: true, more: true, preset: "0", help: "how slowly the lamp itself starts" },
  { key: "fall_ms", label: "Falls in", unit: "ms", number: true, more: true, preset: "0", help: "how slowly the lamp itself stops" },
  { key: "lead_ms", label: "Lead", unit: "ms", number: true, more: true, preset: "0", help: "tell this channel so much earlier" },
  { key: "group", label: "Group", more: true, help: "channels of one group are counted for flashes on their own, too" },
  { key: "max_amps", label: "Output", unit: "A", number: true, more: true, help: "the most that this output of the dimmer takes" },
];

const RIG_FIELDS = [
  { key: "name", label: "Rig name" },
  { key: "mains_volts", label: "Mains", unit: "V", number: true },
  { key: "mains_hz", label: "Frequency", unit: "Hz", number: true },
];

class RigBench {
  constructor(bench) {
    this.bench = bench;
    this.app = bench.app;
    this.list = new RigList({ choose: (number) => this.choose(number), remove: () => this.remove() });
    this.circuits = new RigCircuits({ rename: (from, to) => this.#renameCircuit(from, to), remove: (name) => this.#removeCircuit(name),
      set: (name, key, value) => this.take(this.rig.with("circuit", name, { [key]: value })) });
    this.handles = new Handles(this);
    this.fields = new Map(CHANNEL_FIELDS.map((row) => [row.key, new RigField(row, (value) => this.#set(row, value))]));
    for (const { key, more } of CHANNEL_FIELDS) byId(more ? "rig-more-fields" : "rig-fields").append(this.fields.get(key).box);
    this.wholeFields = new Map(RIG_FIELDS.map((row) => [row.key, new RigField(row, (value) => this.take(this.rig.with("rig", "", { [row.key]: value || null })))]));
    byId("rig-mains").append(...[...this.wholeFields.values()].map(({ box }) => box));
    this.chosen = this.rig.numbers[0];
    this.#listen();
  }

  // The rig as it is now. One without a name of its own goes by that of its file.
  get rig() {
    const { core, state } = this.bench.storm;
    if (this.readFrom !== state.rig) {
      core.rig(state.rig);
      const rig = RigFile.of(core.text("rig"));
      // What the core calls a rig whose file gives it no name.
      this.read = rig.value("rig", "", "name") === "rig" ? rig.with("rig", "", { name: this.app.data.rig.name }) : rig;
      this.readFrom = state.rig;
    }
    return this.read;
  }

  // ---- changing ----

  // Takes a changed rig; answers "" or what the library says against it. With `typed`, a text {word, name, key, value} that
  // must arrive as it was typed.
  take(rig, { words = "", motion = null, hand = null, typed = null } = {}) {
    const { storm } = this.bench;
    let written, own;
    try {
      storm.core.rig(rig.text);
      written = storm.core.text("rig");
      // Somebody's own file keeps its comments.
      own = storm.state.rig ? storm.core.rigInto(storm.state.rig) : { text: written, kept: true };
    } catch (problem) {
      return plainProblem(problem.message);
    }
    const arrived = RigFile.of(written);
    if (typed && (typed.key ? arrived.value(typed.word, typed.name, typed.key) !== typed.value : !arrived.has(typed.word, typed.name))) {
      storm.core.rig(storm.state.rig);
      return "a rig file can't hold this name: what follows a ; after a space is a comment there";
    }
    this.#problem("");
    if (written === this.rig.text) {
      this.show();
      return "";
    }
    const before = this.#aboveLine().map(({ name }) => name);
    storm.take({ ...storm.state, rig: own.text, rigAnew: storm.state.rigAnew || !own.kept, hand: hand || storm.state.hand }, motion);
    this.bench.renew();
    const above = this.#aboveLine().filter(({ name }) => !before.includes(name));
    if (above.length) say(above.map(({ name, all_on_w: watts, breaker_amps: amps, volts }) =>
      `Circuit ${shownText(name)} is above ${watts > amps * volts ? "its breaker" : "80 % of its breaker"}: ${wattText(watts)} of ${wattText(amps * volts)}`).join(". "));
    else if (words) say(words);
    return "";
  }

  #aboveLine() {
    return this.app.data.rig.circuits.filter(({ all_on_w: watts, advice_w: line }) => watts > line);
  }

  // A change that belongs to no field.
  #do(rig, words, more = {}) {
    const problem = this.take(rig, { words, ...more });
    this.#problem(problem);
    return !problem;
  }

  #problem(words) {
    byId("rig-problem").textContent = words;
    byId("rig-problem").hidden = !words;
  }

  #set({ key, place }, value) {
    const { rig, chosen } = this;
    if (key === "number") return this.#renumber(value);
    if (key === "kind") return this.take(withKind(rig, chosen, value));
    if (key === "parent") return this.take(withParent(rig, chosen, Number(value)));
    if (place) return value ? this.hang({ [chosen]: { [key]: value } }) : this.take(rig.with("channel", chosen, NO_PLACE));
    const typed = (key === "name" || key === "group") && value ? { word: "channel", name: chosen, key, value } : null;
    return this.take(rig.with("channel", chosen, { [key]: value || null }), { typed });
  }

  #renumber(value) {
    const { rig, chosen } = this;
    const number = Number(value);
    if (!(Number.isInteger(number) && number >= 1 && number <= CHANNELS_MOST)) return `a channel has a number from 1 to ${CHANNELS_MOST}`;
    if (number !== chosen && rig.has("channel", number)) return `channel ${number} is there already`;
    this.chosen = number;
    const hand = handWithPaths(this.bench.storm.state.hand, (other) => (other === chosen ? number : other));
    const problem = this.take(withNumber(rig, chosen, number), { hand });
    if (problem) this.chosen = chosen;
    return problem;
  }

  // Moves what hangs there: {number: {x, y, ...}}. The first move writes down where everything else hangs, too, so that it
  // stays there whatever comes.
  hang(places, more = {}) {
    const rig = isPlaced(this.rig) ? this.rig : withPlaces(this.rig, this.handles.placesNow());
    return this.take(withPlaces(rig, places), more);
  }

  add(kind) {
    const { rig, chosen } = this;
    const number = freeNumber(rig);
    if (!number) return this.#problem(`A rig has ${CHANNELS_MOST} channels at most`);
    const branches = branchesOf(rig);
    const parent = kind === "flood" ? 0 : branches.includes(chosen) ? chosen : branches[0] || 0;
    this.chosen = number;
    if (!this.#do(addChannel(rig, kind, parent, chosen), `${kind === "flood" ? "Flood" : "Branch"} ${number} added`)) this.chosen = chosen;
    this.show();
    this.fields.get("name").input.focus();
    this.fields.get("name").input.select();
  }

  remove() {
    const { rig, chosen } = this;
    const name = shownText(channelValue(rig, chosen, "name") || "");
    const { numbers } = rig;
    const next = numbers[numbers.indexOf(chosen) + 1] || numbers[numbers.indexOf(chosen) - 1];
    const hand = handWithPaths(this.bench.storm.state.hand, (number) => (number === chosen ? null : number));
    const forks = rig.forks(chosen).length;
    this.chosen = next;
    if (!this.#do(removeChannel(rig, chosen), `${name} removed${forks ? "; what grew from it grows from its parent" : ""}. Ctrl and Z brings it back`, { hand })) this.chosen = chosen;
    this.show();
  }

  #renameCircuit(from, to) {
    if (from !== to && this.rig.has("circuit", to)) return `circuit ${to} is there already`;
    return this.take(withCircuitName(this.rig, from, to), { typed: { word: "circuit", name: to } });
  }

  #removeCircuit(name) {
    this.#do(this.rig.withoutSection("circuit", name), `Circuit ${shownText(name)} removed`);
  }

  // A rig file of the user's own in the place of this rig, byte for byte.
  async open(file) {
    const { storm } = this.bench;
    const text = await file.text();
    try {
      storm.core.rig(text);
    } catch (problem) {
      byId("rig-bench").open = true;
      byId("rig-problem").scrollIntoView({ block: "nearest" });
      return this.#problem(`${plainText(file.name)}${problem.message.replace(/^rig/, "")}`);
    }
    this.#problem("");
    storm.take({ ...storm.state, rig: text, rigAnew: false, rigName: plainText(file.name) });
    this.bench.renew();
    say(`The rig is that of ${plainText(file.name)}`);
  }

  // ---- showing ----

  choose(number) {
    if (number === undefined) return;
    this.chosen = number;
    this.show();
  }

  // The index of the channel that the picture marks while nothing else is pointed at.
  get marked() {
    return byId("rig-bench").open ? this.index : -1;
  }

  // The index of the channel in hand among those of the page.
  get index() {
    return this.app.indexOf.get(this.chosen) ?? -1;
  }

  // After every change of the storm.
  show() {
    if (!byId("rig-bench").open) return;
    const { rig } = this;
    if (!rig.has("channel", this.chosen)) this.chosen = rig.numbers[0];
    this.list.show(rig, this.chosen);
    this.#showChannel(rig);
    this.circuits.show(rig, this.app.data.rig.circuits);
    for (const [key, field] of this.wholeFields) field.show(rig.value("rig", "", key) || "");
    byId("rig-anew").hidden = !this.bench.storm.state.rigAnew;
    byId("rig-lay-out").hidden = !isPlaced(rig);
    byId("rig-add-branch").disabled = byId("rig-add-flood").disabled = !freeNumber(rig);
    this.handles.show();
    this.app.picture.mark(this.index);
  }

  #showChannel(rig) {
    const { chosen } = this;
    const kind = kindOf(rig, chosen);
    byId("rig-form-head").replaceChildren(`Channel ${chosen}: `, named(channelValue(rig, chosen, "name") || ""));
    byId("rig-remove").textContent = `Remove this ${kind}`;
    const nameOf = (number) => `${number} ${channelValue(rig, number, "name") || ""}`;
    const words = (list) => list.map((word) => [word, word]);
    const options = {
      kind: () => words(["branch", "flood"]),
      parent: () => [["", "(a root)"], ...parentsFor(rig, chosen).map((number) => [String(number), nameOf(number)])],
      circuit: () => words(rig.names("circuit")),
      curve: () => words(["linear", "square", "lstar"]),
      lamp: () => words(["led", "incandescent"]),
    };
    for (const { key, preset = "", place } of CHANNEL_FIELDS) {
      const value = key === "number" ? String(chosen) : channelValue(rig, chosen, key) ?? preset;
      this.fields.get(key).show(value, { hidden: key === "parent" && kind === "flood", placeholder: place ? "laid out" : key === "slot" ? "by number" : "",
        options: options[key] ? options[key]() : null });
    }
    const twin = rig.numbers.find((number) => number !== chosen && channelValue(rig, number, "name") === channelValue(rig, chosen, "name"));
    if (twin) this.fields.get("name").tell(`channel ${twin} has this name, too: in frames.csv they look alike`);
  }

  #listen() {
    const click = (id, act) => byId(id).addEventListener("click", act);
    click("rig-arrange", () => (this.handles.on ? this.handles.stop() : this.handles.start()));
    click("rig-lay-out", () => this.#do(withoutPlaces(this.rig), "Laid out by its forks"));
    byId("rig-for-all").hidden = !this.app.rigForAll;
    click("rig-for-all", async () => {
      await this.app.rigForAll(this.bench.storm.state.rig || this.rig.text, this.app.data.rig.name);
      say("All recordings are cued for this rig");
    });
    click("rig-add-branch", () => this.add("branch"));
    click("rig-add-flood", () => this.add("flood"));
    click("rig-remove", () => this.remove());
    click("rig-add-circuit", () => {
      if (this.#do(addCircuit(this.rig), "Circuit added")) this.circuits.rows.at(-1).title.input.focus();
    });
    byId("rig-open").addEventListener("change", ({ target }) => {
      if (target.files[0]) this.open(target.files[0]);
      target.value = "";
    });
    // A click on a branch is a path for the crack in hand; without one it takes the branch in hand.
    byId("picture").addEventListener("click", (event) => {
      const box = byId("picture").getBoundingClientRect();
      const index = this.app.stage.branchNear(event.clientX - box.left, event.clientY - box.top);
      const { entry } = this.bench.hand;
      if (index >= 0 && byId("rig-bench").open && !(entry && entry.event.kind === "crack")) this.choose(this.app.channels[index].number);
    });
    // Dropped onto the page of one storm; the page that opens storms takes its files itself.
    const { leaving: signal } = this.app;
    document.addEventListener("dragover", (event) => event.preventDefault(), { signal });
    document.addEventListener("drop", (event) => {
      const rig = [...event.dataTransfer.files].find(({ name }) => kindOfFile(name) === "rig");
      if (!event.defaultPrevented && rig) this.open(rig);
      else if (!event.defaultPrevented && event.dataTransfer.files.length)
        this.bench.tell("This page is of one recording: a rig file can be dropped onto it. Recordings, events and settings go onto thundercue.html.");
      event.preventDefault();
    }, { signal });
    byId("rig-bench").addEventListener("toggle", () => {
      if (byId("rig-bench").open) return this.show();
      this.handles.stop();
      this.app.picture.mark(-1);
    });
  }
}
