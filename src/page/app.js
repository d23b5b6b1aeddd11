// The page itself: takes the data, ties stage, lanes and player together, and starts them.
//
// For tests and for curious people, window.thundercue offers:
//   seek(seconds)  light(channel number)  level(channel number)  total()  state()  play()  pause()
//   spot(channel number): where its light is drawn, in pixels of the window
//   picture: the stage's canvas          soundTime(): the recording's own position
//   shelf(): the recordings opened here      file(events, frames, ramps, settings, rig or page): the bytes that would be saved
//   events(): as they are now            tookMs(): how long cueing took the last time

// The data as the page uses it: events by name.
function takeEvents(data) {
  data.events = data.events.map((event) => (Array.isArray(event) ? eventOf(event) : event));
  return data;
}

function takeData(app) {
  const { data } = app;
  app.timeline = new Timeline(data);
  app.shift = data.start_s || 0;
  app.offset = data.sound.offset_s || 0;
  app.end = data.duration_s + Math.max(0, app.offset);
  app.cracks = data.events.filter((event) => event.kind === "crack").map((event) => event.start_s);
  const dimmed = new Set(data.dimmed.map((seconds) => Math.round(seconds * 1000)));
  app.dimmed = data.events.filter((event) => event.kind === "crack" && dimmed.has(Math.round(event.start_s * 1000)));
  app.unlit = unlitCracks(app).filter((event) => !app.dimmed.includes(event));
}

// Cracks that bring no rise of light in their own frame, since the flash limit or the settings left them none.
function unlitCracks({ data, timeline }) {
  if (!timeline.exact) return [];
  const lead = Number((data.settings.find(([name]) => name === "lead") || [0, 0])[1]) / 1000;
  const total = (frame) => timeline.totalLight(Math.max(0, frame) / data.frame_rate);
  return data.events.filter((event) => {
    if (event.kind !== "crack") return false;
    const frame = Math.max(0, Math.floor((event.start_s - lead) * data.frame_rate + 1e-6));
    return Math.max(total(frame), total(frame + 1)) - (frame ? Math.min(total(frame - 1), total(frame)) : 0) <= 0.001;
  });
}

// Another rig, or the same one changed: all that is made once for each channel.
function renewRig(app) {
  const { channels, indexOf, stage, picture, lanes } = app;
  indexOf.clear();
  channels.forEach((channel, i) => indexOf.set(channel.number, i));
  stage.renew(channels);
  picture.lights = new Float32Array(channels.length);
  if (picture.look.marked >= channels.length) picture.look.marked = -1;
  lanes.renewStrips();
  fillRig(app);
}

// What cueing made, into the data of the page; true where the rig is another one.
function takeFresh(data, fresh) {
  for (const part of ["duration_s", "frame_rate", "start_s", "events", "strokes", "dimmed", "ramps", "light", "flash", "summary", "settings", "command", "notes"])
    data[part] = fresh[part];
  data.sound.offset_s = fresh.sound.offset_s;
  const another = data.rig.text !== fresh.rig.text;
  // A rig without a name of its own goes by that of its file.
  data.rig = another ? fresh.rig : { ...fresh.rig, name: data.rig.name };
  return another;
}

// The storm was cued anew: `fresh` has all that came of it, and what was heard stays. Playing goes on.
function renewApp(app, fresh) {
  const { data } = app;
  const another = takeFresh(data, fresh);
  app.channels = data.rig.channels;
  takeData(app);
  Object.assign(app.player, { end: app.end, offset: app.offset });
  app.lanes.unlit = new Set([...app.unlit, ...app.dimmed]);
  if (another) renewRig(app);
  app.lanes.renew(app.timeline, app.end);
  app.picture.renew();
  fillFacts(app);
  fillShow(app);
  app.transport.showTime(app.player.time);
}

// What all parts of the page share. Times are seconds from the start of the timeline; `shift` is added to those shown,
// the sound starts `offset` after the light, `end` is where both are over.
function makeApp(data, { file = null, kept = null, changed = () => {}, rigForAll = null }) {
  const leave = new AbortController();
  const app = { data, file, kept, changed, rigForAll, channels: data.rig.channels, leaving: leave.signal, leave: () => leave.abort() };
  app.indexOf = new Map(app.channels.map((channel, i) => [channel.number, i]));
  takeData(app);
  app.stage = new Stage(byId("picture"), app.channels);
  app.picture = new Picture(app);
  app.transport = new Transport(app);
  app.player = app.transport.player;
  app.lanes = new Lanes(byId("lanes"), data, app.timeline, app.end, {
    seek: (seconds) => app.transport.seek(seconds),
    choose: (from, to) => app.transport.chooseLoop(from, to),
    mark: (index) => app.picture.mark(index < 0 && app.bench ? app.bench.rigBench.marked : index),
    pick: (seconds, reach) => app.bench && app.bench.hand.chooseAt(seconds, reach),
    canCarry: () => Boolean(app.bench),
    carry: (crack) => app.bench.hand.carry(crack),
  }, app.leaving);
  app.lanes.unlit = new Set([...app.unlit, ...app.dimmed]);
  return app;
}

function showFirst(app) {
  const { poster } = app.picture;
  app.stage.resize();
  app.lanes.resize();
  app.picture.caption();
  byId("big-play").hidden = poster === null;
  byId("big-play-word").textContent = "Play the storm";
  app.picture.redraw();
  app.transport.showTime(0);
  app.transport.showState();
  app.transport.showStillOnly();
}

// What the hands have set, for the storm that is opened next. A storm without flash limit has its notice read anew.
function dialsOf({ player, transport }) {
  return { accepted: transport.accepted, speed: player.speed, brightness: byId("brightness").value, volume: byId("volume").value,
    muted: Boolean(transport.sound && transport.sound.muted), showRig: byId("show-rig").checked,
    unfolded: [...document.querySelectorAll("main details[open]")].map(({ id }) => id) };
}

function setDials({ data, player, picture, transport }, dials) {
  transport.accepted = dials.accepted && data.flash.limit > 0;
  player.setSpeed(dials.speed);
  byId("brightness").value = dials.brightness;
  byId("volume").value = dials.volume;
  byId("show-rig").checked = dials.showRig;
  if (transport.sound) Object.assign(transport.sound, { volume: dials.volume / 100, muted: dials.muted });
  picture.look.showRig = dials.showRig;
  for (const id of dials.unfolded) byId(id).open = true;
  picture.setBrightness(Number(dials.brightness));
  transport.showState();
}

function openToTests(app) {
  const { player, transport, lanes, indexOf, picture, data } = app;
  window.thundercue = Object.freeze({
    seek: (seconds) => transport.seek(seconds),
    light: (number) => app.timeline.light(indexOf.get(number), player.time),
    level: (number) => app.timeline.level(indexOf.get(number), player.time),
    total: () => app.timeline.totalLight(player.time),
    play: () => transport.play(),
    pause: () => transport.pause(),
    picture: byId("picture"),
    spot(number) {
      const spot = app.stage.spotOf(indexOf.get(number));
      const box = byId("picture").getBoundingClientRect();
      return spot && { x: box.left + spot[0], y: box.top + spot[1] };
    },
    soundTime: () => (transport.sound && !player.soundFails ? transport.sound.currentTime : null),
    state: () => ({ time: player.time, playing: player.playing, speed: player.speed, loop: player.loop && { ...player.loop },
      accepted: transport.accepted, poster: picture.poster, view: { ...lanes.view }, end: app.end, stillOnly: transport.stillOnly.matches,
      sound: data.sound.kind !== "none" && !player.soundFails, bench: Boolean(app.bench) }),
    file: async (what) => (await filesOfApp(app))[what][1],
    events: () => (app.bench && app.bench.settle(), data.events).map((event) => ({ ...event })),
    tookMs: () => app.bench.storm.tookMs,
  });
}

// `from`, of a storm that was opened in this page: {file: its recording, kept: its Storm as it was left, changed: told of every change,
// rigForAll: gives its rig to all recordings}.
function startStorm(data, from = {}) {
  const app = makeApp(takeEvents(data), from);
  fillWords(app);
  fillFacts(app);
  listenToKeys(app);
  listenToButtons(app);
  listenToPaper(app);
  listenToSize(app);
  placeParts(app);
  showFirst(app);
  openToTests(app);
  app.opened = openBench(app);
  openEvening(app);
  return app;
}

// Puts a storm away: its part of the page is as it was before, for another one. What is changed in the storm is in
// app.data and app.bench.storm.
function closeStorm(app) {
  app.player.pause();
  app.leave();
  delete window.thundercue;
  for (const part of [".masthead", "main"]) document.querySelector(part).replaceWith(PAGE_AS_READ.querySelector(part).cloneNode(true));
}

const storm = byId("data").textContent.trim();
if (storm) startStorm(JSON.parse(storm));
else new Shelf();
