// The storm as it is mended: settings, rig and what was changed by hand, with undo. Each state is a plain value that is never
// changed once it is made, so that history is a list of them.
//
// What was changed by hand stands beside what is heard, not in it, and so survives a move of the sensitivity:
//   removed: keys of events that were deleted      changed: {key: event as it is now}      added: [event]

// An event that was heard is known by its kind and its start, and by a running number where several begin together: a list
// of [key, event].
function keyed(events) {
  const counts = new Map();
  return events.map((event) => {
    const start = `${event.kind}@${Math.round(event.start_s * 1000)}`;
    const count = (counts.get(start) || 0) + 1;
    counts.set(start, count);
    return [count > 1 ? `${start}#${count}` : start, event];
  });
}
const sameEvent = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const inOrder = (a, b) => a.start_s - b.start_s || (a.kind === "rumble") - (b.kind === "rumble");

// What somebody did by hand to get from the events heard to those of the data.
function handOf(heard, events) {
  const now = new Map(keyed(events));
  const before = new Map(keyed(heard));
  const hand = { removed: [], changed: {}, added: [] };
  for (const [key, event] of before) {
    if (!now.has(key)) hand.removed.push(key);
    else if (!sameEvent(now.get(key), event)) hand.changed[key] = now.get(key);
  }
  for (const [key, event] of now) if (!before.has(key)) hand.added.push(event);
  return hand;
}

// The events heard, mended by hand; each says where it comes from: {event, key} or {event, index} in `added`.
function mended(heard, hand) {
  const removed = new Set(hand.removed);
  const before = keyed(heard);
  const list = before.filter(([key]) => !removed.has(key)).map(([key, event]) => ({ key, event: hand.changed[key] || event }));
  // What was changed by hand stays, even where it would no longer be heard.
  const keys = new Set(before.map(([key]) => key));
  for (const [key, event] of Object.entries(hand.changed)) if (!keys.has(key)) list.push({ key, event });
  hand.added.forEach((event, index) => list.push({ index, event }));
  return list.sort((a, b) => inOrder(a.event, b.event));
}

// The hand with one event replaced, or deleted where `event` is null.
function handWith(hand, { key, index }, event) {
  if (key === undefined) {
    const added = hand.added.slice();
    if (event) added[index] = event;
    else added.splice(index, 1);
    return { ...hand, added };
  }
  const changed = { ...hand.changed };
  delete changed[key];
  if (event) return { ...hand, changed: { ...changed, [key]: event } };
  return { ...hand, changed, removed: [...hand.removed, key] };
}

class Storm {
  // `settings`: {name: value as text} of those that differ from their defaults.
  constructor(core, data) {
    this.core = core;
    this.data = data;
    const settings = Object.fromEntries(data.settings.filter(([, , , changed]) => changed).map(([name, value]) => [name, value]));
    // The sensitivity chooses among cracks; rumbles are those that the page came with.
    const heard = { analysis: data.analysis, rumbles: data.events.filter((event) => event.kind === "rumble") };
    this.state = { settings, rig: data.rig.text, heard };
    this.load();
    this.past = [];
    this.future = [];
    this.motion = null;
    this.state = { ...this.state, hand: handOf(this.#heard(), data.events) };
    this.saved = this.first = this.state;
    this.cameAs = { command: data.command, notes: data.notes, rigName: data.rig.name };
  }

  // Makes this the storm that the core has: it has one at a time.
  load() {
    const { heard } = this.state;
    if (this.core.holder === this && this.core.heard === heard.analysis) return;
    Object.assign(this.core, { holder: this, heard: heard.analysis });
    this.core.analysis(bytesOf(heard.analysis));
    if (this.data.wave.count) this.core.overview(this.data);
    this.core.rig(this.state.rig);
    this.core.settings(this.lines(this.state.settings));
  }

  // True where somebody changed anything.
  get touched() {
    return this.past.length > 0;
  }

  get unsaved() {
    return this.state !== this.saved;
  }

  // ---- files that come later ----

  // "rig" or "settings"; paths by hand that the new rig doesn't have are drawn again.
  takeText(kind, text) {
    if (kind === "settings") {
      this.take({ ...this.state, settings: this.core.settings(text) });
      return;
    }
    this.take({ ...this.state, rig: text, rigAnew: false });
    try {
      this.cue();
    } catch {
      const free = (event) => ({ ...event, path: [] });
      const { hand } = this.state;
      this.state = { ...this.state, hand: { ...hand, added: hand.added.map(free),
        changed: Object.fromEntries(Object.entries(hand.changed).map(([key, event]) => [key, free(event)])) } };
    }
  }

  get frameRate() {
    return this.state.settings["frame-rate"];
  }

  // The same recording heard at another rate of light frames; rumbles that were changed by hand stay.
  takeHeard(data, settings) {
    const { hand, heard } = this.state;
    const byHand = [...hand.removed, ...Object.keys(hand.changed)].some((key) => key.startsWith("rumble"));
    const rumbles = byHand ? heard.rumbles : data.events.filter((event) => event.kind === "rumble");
    this.take({ ...this.state, settings, heard: { analysis: data.analysis, rumbles } });
  }

  // Its events in the place of those heard and of what was done by hand.
  takeEventsFile(text) {
    this.load();
    this.core.settings(this.lines(this.state.settings));
    this.core.eventsFile(text);
    const events = this.core.cue().events.map(eventOf);
    this.core.settings(this.lines(this.state.settings));
    this.take({ ...this.state, hand: handOf(this.#heard(), events) });
  }

  #heard() {
    return [...this.core.choose().filter((event) => event.kind === "crack"), ...this.state.heard.rumbles];
  }

  lines(settings) {
    return Object.entries(settings).map(([name, value]) => `${name} = ${value}\n`).join("");
  }

  // What the page says of itself, for Core.about. A storm as it came has the command that it came with; a changed one is
  // made again from the files that the page saves, beside its recording.
  #about() {
    const { data, state, first, cameAs } = this;
    const { hand } = state;
    const byHand = hand.removed.length || hand.added.length || Object.keys(hand.changed).length;
    const recording = { "from events alone": "", "from standard input": "-" }[data.recording] ?? data.recording;
    return [data.title, data.recording, data.sound.kind, data.sound.type, data.sound.src, data.sound.own ? "own" : "",
      state.rig === first.rig ? cameAs.rigName : state.rigName || "", state === first ? cameAs.command : "",
      recording, byHand ? `${data.title}.events.csv` : "", state.rig ? `${data.title}.rig` : "", ...cameAs.notes];
  }

  // Cues the state; returns the page's data. `more` as Core.cue takes it.
  cue(more = 0) {
    const start = performance.now();
    this.load();
    this.core.settings(this.lines(this.state.settings));
    this.core.rig(this.state.rig);
    this.list = mended(this.#heard(), this.state.hand);
    this.core.events(this.list.map(({ event }) => event));
    this.core.about(this.#about());
    const data = this.core.cue(more);
    data.events = data.events.map(eventOf);
    data.rig.text = this.state.rig;
    // A rig whose file gives it no name goes by the file's.
    if (data.rig.name === "rig" && this.state.rigName) data.rig.name = this.state.rigName;
    data.analysis = this.state.heard.analysis;
    this.tookMs = performance.now() - start;
    return data;
  }

  // Takes a new state; steps of one movement of a hand (the same `motion`) are undone together.
  take(state, motion = null) {
    if (!motion || motion !== this.motion) this.past.push(this.state);
    this.motion = motion;
    this.future = [];
    this.state = state;
  }

  // How things stand, to come back to as if nothing had been done since.
  get standing() {
    return { state: this.state, past: this.past.slice(), future: this.future };
  }

  backTo(standing) {
    Object.assign(this, standing, { motion: null });
  }

  undo() {
    if (!this.past.length) return false;
    this.future.push(this.state);
    this.state = this.past.pop();
    this.motion = null;
    return true;
  }

  redo() {
    if (!this.future.length) return false;
    this.past.push(this.state);
    this.state = this.future.pop();
    this.motion = null;
    return true;
  }
}
