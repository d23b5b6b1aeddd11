// The clock of the page: where we are, whether we run, how fast, and the recording in step with it.
//
// Time counts from the start of the timeline of light. The sound starts offset_s later (light first, thunder after).
// While sound is heard, its own clock leads and ours is eased towards it; without sound ours runs alone.

const SPEEDS = [1, 0.5, 0.25, 0.1];
// Between two rounds of a loop it stays dark for this long, so that flashes on both sides of the seam never fall into
// the same second: the flash limit holds in a loop as well.
const LOOP_REST_S = 1;
const DRIFT_TO_JUMP_S = 0.12;

class Player {
  // Calls back: onTime(seconds, {rest}) on every change of time, onState() when anything else changes.
  constructor({ end, sound, offset, onTime, onState }) {
    Object.assign(this, { end, sound, offset, onTime, onState });
    this.time = 0;
    this.playing = false;
    this.speed = 1;
    this.loop = null; // {from, to} or null
    this.soundFails = !sound;
    this.restUntil = 0;
    if (sound) {
      sound.preservesPitch = false;
      sound.addEventListener("error", () => this.#dropSound());
    }
  }

  #dropSound() {
    this.soundFails = true;
    this.onState();
  }

  #soundTime() {
    return this.time - this.offset;
  }

  #soundBelongsHere() {
    const at = this.#soundTime();
    const length = this.sound ? this.sound.duration : 0;
    return !this.soundFails && at >= 0 && (Number.isNaN(length) || at < length);
  }

  #startSound() {
    if (!this.#soundBelongsHere()) return;
    this.sound.playbackRate = this.speed;
    this.sound.currentTime = this.#soundTime();
    const started = this.sound.play();
    if (started)
      started.catch((problem) => {
        // A pause that overtakes the start is no failure.
        if (problem.name !== "AbortError") this.#dropSound();
      });
  }

  #stopSound() {
    if (this.sound) this.sound.pause();
  }

  play() {
    if (this.playing) return;
    if (this.time >= this.end - 1e-6) this.time = this.loop ? this.loop.from : 0;
    if (this.loop && (this.time < this.loop.from || this.time >= this.loop.to)) this.time = this.loop.from;
    this.playing = true;
    this.restUntil = 0;
    this.last = performance.now();
    this.#startSound();
    this.onState();
    requestAnimationFrame((now) => this.#tick(now));
  }

  pause() {
    if (!this.playing) return;
    this.playing = false;
    this.#stopSound();
    this.onState();
    this.onTime(this.time, { from: this.time, rest: false });
  }

  seek(seconds) {
    this.time = Math.min(this.end, Math.max(0, seconds));
    this.restUntil = 0;
    if (this.playing) {
      this.#stopSound();
      this.#startSound();
    }
    this.onTime(this.time, { from: this.time, rest: false });
  }

  setSpeed(speed) {
    this.speed = speed;
    if (this.sound && !this.soundFails) this.sound.playbackRate = speed;
    this.onState();
  }

  setLoop(from, to) {
    this.loop = from === null ? null : { from, to };
    this.restUntil = 0;
    this.onState();
  }

  #tick(now) {
    if (!this.playing) return;
    const passed = Math.min(0.25, Math.max(0, (now - this.last) / 1000));
    this.last = now;
    if (this.restUntil) {
      if (now < this.restUntil) this.onTime(this.time, { from: this.time, rest: true });
      else {
        this.restUntil = 0;
        this.time = this.loop ? this.loop.from : this.time;
        this.#startSound();
        this.onTime(this.time, { from: this.time, rest: false });
      }
      requestAnimationFrame((next) => this.#tick(next));
      return;
    }
    const before = this.time;
    let time = before + passed * this.speed;
    if (!this.soundFails && !this.sound.paused && !this.sound.seeking && this.sound.readyState >= 2) {
      const heard = this.sound.currentTime + this.offset;
      const drift = heard - time;
      // Never back: light waits for late sound rather than flash twice.
      time = Math.max(before, Math.abs(drift) > DRIFT_TO_JUMP_S ? heard : time + drift * 0.12);
    } else if (this.sound && this.sound.paused && this.#soundBelongsHere()) {
      this.time = time;
      this.#startSound();
    }
    this.time = time;
    if (this.loop && time >= this.loop.to) {
      this.#stopSound();
      this.time = this.loop.to;
      this.onTime(this.time, { from: this.time, rest: true });
      // From when the dark is drawn, which on a busy machine is later than the picture's own time.
      this.restUntil = performance.now() + LOOP_REST_S * 1000;
    } else if (time >= this.end) {
      this.time = this.end;
      this.playing = false;
      this.#stopSound();
      this.onTime(this.time, { from: this.time, rest: false });
      this.onState();
      return;
    } else this.onTime(time, { from: before, rest: false });
    requestAnimationFrame((next) => this.#tick(next));
  }
}
