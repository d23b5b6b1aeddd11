// What the stage shows: the light of this moment, or, before anything plays, the brightest stroke as a still picture.

// The stroke with the most light, in seconds; null where nothing lights.
function brightestMoment({ data, timeline }) {
  let best = { seconds: 0, light: 0 };
  const stride = Math.max(1, Math.floor(data.strokes.length / 4000));
  for (let i = 0; i < data.strokes.length; i += stride)
    for (let frame = 0; frame < 3; frame++) {
      const seconds = (Math.floor(data.strokes[i] * data.frame_rate + 1e-6) + frame) / data.frame_rate;
      const light = timeline.totalLight(seconds);
      if (light > best.light + 1e-4) best = { seconds, light };
    }
  return best.light > 0 ? best.seconds : null;
}

class Picture {
  constructor(app) {
    this.app = app;
    this.look = { brightness: 0.4, showRig: true, marked: -1 };
    this.poster = brightestMoment(app);
    this.lights = new Float32Array(app.channels.length);
    this.drawn = "";
    this.held = false;
  }

  // The light at a moment, or the most light since an earlier one; `rest` is the dark between two rounds of a loop.
  show(seconds, from = seconds, rest = false) {
    const { stage, timeline } = this.app;
    const { lights } = this;
    // What is pointed out belongs to still pictures: nothing is painted over the show.
    const look = this.app.player && this.app.player.playing ? { ...this.look, marked: -1 } : this.look;
    if (look.arranging && this.app.player.playing) look.arranging.stop();
    if (rest || look.arranging) lights.fill(0);
    else if (from < seconds) timeline.fillPeaks(lights, from, seconds);
    else timeline.fillLights(lights, seconds);
    let key = `${look.brightness}|${look.showRig}|${look.marked}|${Boolean(look.arranging)}|${stage.width}x${stage.height}x${stage.scale}`;
    if (lights.some((light) => light > 0)) key += `|${seconds}|${from}`;
    // In the dark, water without light to ripple with looks the same from one picture to the next.
    if (key === this.drawn) return;
    this.drawn = key;
    const start = performance.now();
    stage.draw(lights, { ...look, seconds });
    if (from < seconds && stage.tooSlow(performance.now() - start)) stage.draw(lights, { ...look, seconds });
  }

  // While somebody arranges the lights the picture shows where they hang, and no storm; null ends it.
  arrange(handles) {
    this.look.arranging = handles;
    this.redraw();
  }

  // While a hand holds something the picture waits: light and dark in quick turns are flashes too, whoever makes them.
  hold(on) {
    this.held = on;
    if (!on) this.renew();
  }

  // After the storm was cued anew.
  renew() {
    if (this.held) return;
    if (this.poster !== null) this.poster = brightestMoment(this.app);
    byId("caption").hidden = this.poster === null;
    byId("big-play").hidden = this.poster === null || this.app.transport.stillOnly.matches || !byId("notice").hidden;
    this.caption();
    // While it plays the next picture comes by itself.
    if (this.app.player.playing) this.drawn = "";
    else this.redraw();
  }

  caption() {
    byId("caption").textContent = this.poster === null ? "" : `Still picture: the brightest stroke, at ${momentText(this.app, this.poster)}`;
  }

  redraw() {
    this.drawn = "";
    this.show(this.poster === null ? this.app.player.time : this.poster);
  }

  leavePoster() {
    if (this.poster === null) return;
    this.poster = null;
    byId("caption").hidden = true;
    byId("big-play").hidden = true;
  }

  setBrightness(percent) {
    this.look.brightness = percent / 100;
    byId("brightness-value").textContent = `${percent} %`;
    this.redraw();
  }

  showRig(on) {
    this.look.showRig = on;
    this.redraw();
  }

  mark(index) {
    if (this.look.marked === index) return;
    this.look.marked = index;
    if (!this.app.player.playing) this.redraw();
  }
}
