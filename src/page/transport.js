// Playing, as the user asks for it: the notice before the first flash, play and pause, seeking and stepping, loop and sound.

// Between two still pictures under a held key or a moving hand: fewer than three flashes a second come of that.
const STILL_MS = 350;

// The sound of a storm that was opened here is the user's own file; that of a written page lies in it or beside it.
function openSound({ data, file, leaving }) {
  if (data.sound.kind === "none") return null;
  const sound = new Audio();
  sound.preload = "auto";
  const bytes = file || (data.sound.kind === "embedded" && new Blob([bytesOf(byId("sound-data").textContent)], { type: data.sound.type }));
  sound.src = bytes ? URL.createObjectURL(bytes) : data.sound.src;
  leaving.addEventListener("abort", () => {
    if (bytes) URL.revokeObjectURL(sound.src);
    sound.removeAttribute("src");
    sound.load();
  });
  return sound;
}

class Transport {
  constructor(app) {
    this.app = app;
    this.accepted = false;
    this.stillOnly = matchMedia("(prefers-reduced-motion: reduce)");
    this.sound = openSound(app);
    this.stillTimer = 0;
    this.nextStillAt = 0;
    if (this.sound) this.sound.volume = 0.8;
    this.player = new Player({
      end: app.end, sound: this.sound, offset: app.offset,
      onTime(seconds, { from, rest }) {
        app.picture.leavePoster();
        app.picture.show(seconds, from, rest);
        app.transport.showTime(seconds);
        if (app.player.playing && byId("follow").checked) app.lanes.follow(seconds);
      },
      onState: () => this.showState(),
    });
  }

  // ---- what is shown ----

  showTime(seconds) {
    const { shift, end, lanes } = this.app;
    byId("now").textContent = timeText(seconds + shift);
    const bar = byId("seek");
    if (document.activeElement !== bar || this.player.playing) bar.value = seconds;
    bar.style.setProperty("--done", `${(100 * seconds) / end}%`);
    bar.setAttribute("aria-valuetext", `${timeText(seconds + shift)} of ${timeText(end + shift)}`);
    lanes.showHead(seconds);
  }

  showState() {
    const { player, sound } = this;
    const { data, shift, lanes } = this.app;
    document.body.classList.toggle("playing", player.playing);
    for (const id of ["play", "lanes-play"]) byId(id).setAttribute("aria-label", player.playing ? "Pause" : "Play");
    for (const input of byId("speed").querySelectorAll("input")) input.checked = Number(input.value) === player.speed;
    lanes.showChosen(player.loop);
    for (const id of ["loop-zoom", "loop-clear", "loop-ends"]) byId(id).hidden = !player.loop;
    byId("loop-here").hidden = Boolean(player.loop);
    byId("loop-words").textContent = player.loop ? "A second of dark between rounds." : matchMedia("(pointer: coarse)").matches ? "" : "Drag across the lanes to loop a part.";
    for (const end of ["from", "to"]) if (player.loop) byId(`loop-${end}`).value = (player.loop[end] + shift).toFixed(2);
    const silent = player.soundFails;
    byId("volume").disabled = byId("mute").disabled = silent;
    byId("mute").textContent = silent ? "None" : sound.muted ? "Off" : "On";
    byId("mute").setAttribute("aria-pressed", String(!silent && sound.muted));
    if (silent && data.sound.kind !== "none") warnOnce("sound", data.sound.kind === "file"
      ? ["The recording ", data.recording, " can't be played from beside this page: put it into the same folder, in a form that this browser plays. Until then the light plays without its sound."]
      : ["This browser can't play the sound in this page; the light plays without it."]);
  }

  showStillOnly() {
    const still = this.stillOnly.matches;
    if (still && this.player.playing) this.player.pause();
    document.body.classList.toggle("still-only", still);
    byId("play").disabled = byId("lanes-play").disabled = still;
    byId("big-play").hidden = this.app.picture.poster === null || still;
    if (still) {
      byId("notice").hidden = true;
      warnOnce("still", ["This device asks for less motion, so the page shows still frames: step through them with the arrow keys, the buttons, or a click on the lanes."]);
    } else if (byId("warning-still")) byId("warning-still").remove();
  }

  // ---- play and pause ----

  play() {
    if (this.stillOnly.matches) {
      say("Still frames only, since this device asks for less motion. Step with the arrow keys.");
      return;
    }
    if (!this.accepted) {
      byId("notice").hidden = false;
      byId("big-play").hidden = byId("caption").hidden = true;
      byId("notice").scrollIntoView({ block: "nearest" });
      byId("accept").focus();
      return;
    }
    this.player.play();
    say("Playing");
  }

  pause() {
    this.player.pause();
    say(`Paused at ${timeText(this.player.time + this.app.shift)}`);
  }

  toggle() {
    if (this.player.playing) this.pause();
    else this.play();
  }

  accept() {
    this.accepted = true;
    this.closeNotice();
    this.play();
  }

  closeNotice() {
    const { poster } = this.app.picture;
    byId("notice").hidden = true;
    byId("big-play").hidden = poster === null || this.stillOnly.matches;
    byId("caption").hidden = poster === null;
    byId("play").focus();
  }

  setMuted(muted) {
    if (!this.sound || this.player.soundFails) return;
    this.sound.muted = muted;
    this.showState();
    say(muted ? "Sound off" : "Sound on");
  }

  // ---- moving ----

  seek(seconds, words) {
    const { player } = this;
    player.seek(seconds);
    if (!player.playing) this.app.lanes.follow(player.time);
    if (words) say(`${words}, ${timeText(player.time + this.app.shift)}`);
  }

  // For a slider under a moving hand: until the notice is accepted still pictures come one by one, since light and dark
  // in quick turns are flashes too, whoever makes them.
  seekGently(seconds) {
    clearTimeout(this.stillTimer);
    const wait = this.accepted && !this.stillOnly.matches ? 0 : this.nextStillAt - performance.now();
    if (wait > 0) {
      this.stillTimer = setTimeout(() => this.seekGently(seconds), wait);
      return;
    }
    this.nextStillAt = performance.now() + STILL_MS;
    this.seek(seconds);
  }

  // Whole light frames, so that stepping shows the rows of the frames file.
  step(frames) {
    const { frame_rate: rate } = this.app.data;
    const at = Math.round(this.player.time * rate * 1e4) / 1e4;
    const next = frames > 0 ? Math.floor(at) + frames : Math.ceil(at) + frames;
    this.seek(next / rate);
  }

  // To the light frame that contains the crack, where its stroke starts.
  toCrack(direction) {
    const { data, cracks, offset } = this.app;
    const frameOf = (seconds) => Math.floor(seconds * data.frame_rate + 1e-6);
    // While playing, "before" means the crack before the one that has just gone by.
    const now = frameOf(this.player.time - (direction < 0 && this.player.playing ? 0.5 : 0));
    const frames = cracks.map((at) => frameOf(at + offset));
    const next = direction > 0 ? frames.findIndex((frame) => frame > now) : frames.findLastIndex((frame) => frame < now);
    if (next < 0) return say(direction > 0 ? "No crack after this" : "No crack before this");
    if (this.app.bench) this.app.bench.hand.chooseAt(frames[next] / data.frame_rate + 0.5 / data.frame_rate);
    this.seek(frames[next] / data.frame_rate, `Crack ${next + 1} of ${cracks.length}`);
  }

  // ---- loop ----

  setLoop(from, to) {
    if (from === null || to - from < 0.02) this.player.setLoop(null);
    else this.player.setLoop(Math.max(0, from), Math.min(this.app.end, to));
  }

  chooseLoop(from, to) {
    this.setLoop(from, to);
    if (this.player.loop) this.seek(this.player.loop.from);
  }

  startLoopHere() {
    const { loop, time } = this.player;
    this.setLoop(time, loop ? Math.max(loop.to, time + 0.1) : this.app.end);
  }

  endLoopHere() {
    const { loop, time } = this.player;
    this.setLoop(loop ? Math.min(loop.from, time - 0.1) : 0, time);
  }

  loopHere() {
    const { time } = this.player;
    this.setLoop(Math.min(time, this.app.end - 1), Math.min(this.app.end, time + 5));
    byId("loop-from").focus();
  }

  // `which`: "from" or "to", in seconds as they are shown.
  setLoopEnd(which, shown) {
    const loop = { ...this.player.loop, [which]: shown - this.app.shift };
    if (loop.to - loop.from >= 0.1) this.setLoop(loop.from, loop.to);
    else say("A loop lasts a tenth of a second at least");
    this.showState();
  }

  zoomToLoop() {
    const { loop } = this.player;
    if (!loop) return;
    const margin = 0.1 * (loop.to - loop.from);
    this.app.lanes.setView(loop.from - margin, loop.to + margin);
  }
}
