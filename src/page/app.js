// The page itself: takes the data, ties stage, lanes and player together, and starts them.
//
// For tests and for curious people, window.thundercue offers:
//   seek(seconds)  light(channel number)  level(channel number)  total()  state()  play()  pause()
//   spot(channel number): where its light is drawn, in pixels of the window
//   picture: the stage's canvas          soundTime(): the recording's own position

// The data as the page uses it: events by name.
function readData() {
  const data = JSON.parse(byId("data").textContent);
  data.events = data.events.map(([kind, start_s, end_s, peak_s, strength, sharpness, level_dbfs]) => ({
    kind: kind ? "rumble" : "crack", start_s, end_s, peak_s, strength, sharpness, level_dbfs }));
  return data;
}

// What all parts of the page share. Times are seconds from the start of the timeline; `shift` is added to those shown,
// the sound starts `offset` after the light, `end` is where both are over.
function makeApp(data) {
  const app = { data, channels: data.rig.channels, timeline: new Timeline(data) };
  app.indexOf = new Map(app.channels.map((channel, i) => [channel.number, i]));
  app.shift = data.start_s || 0;
  app.offset = data.sound.offset_s || 0;
  app.end = data.duration_s + Math.max(0, app.offset);
  app.cracks = data.events.filter((event) => event.kind === "crack").map((event) => event.start_s);
  app.stage = new Stage(byId("picture"), app.channels);
  app.picture = new Picture(app);
  app.transport = new Transport(app);
  app.player = app.transport.player;
  app.lanes = new Lanes(byId("lanes"), data, app.timeline, app.end, {
    seek: (seconds) => app.transport.seek(seconds),
    choose: (from, to) => app.transport.chooseLoop(from, to),
    mark: (index) => app.picture.mark(index),
  });
  return app;
}

function showFirst(app) {
  const { poster } = app.picture;
  app.stage.resize();
  app.lanes.resize();
  byId("caption").textContent = poster === null ? "" : `Still picture: the brightest stroke, at ${timeText(poster + app.shift)}`;
  byId("big-play").hidden = poster === null;
  byId("big-play-word").textContent = "Play the storm";
  app.picture.redraw();
  app.transport.showTime(0);
  app.transport.showState();
  app.transport.showStillOnly();
}

function openToTests(app) {
  const { player, transport, lanes, timeline, indexOf, picture, data, end } = app;
  window.thundercue = Object.freeze({
    seek: (seconds) => transport.seek(seconds),
    light: (number) => timeline.light(indexOf.get(number), player.time),
    level: (number) => timeline.level(indexOf.get(number), player.time),
    total: () => timeline.totalLight(player.time),
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
      accepted: transport.accepted, poster: picture.poster, view: { ...lanes.view }, end, stillOnly: transport.stillOnly.matches,
      sound: data.sound.kind !== "none" && !player.soundFails }),
  });
}

function startPage() {
  const app = makeApp(readData());
  fillWords(app);
  fillFacts(app);
  listenToKeys(app);
  listenToButtons(app);
  listenToPaper(app);
  listenToSize(app);
  showFirst(app);
  openToTests(app);
}

startPage();
