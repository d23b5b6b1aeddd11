// The page itself: fills in the facts, ties stage, lanes and player together, and listens to the user.
//
// All text from outside (names of files, rigs, channels, settings) goes in as text and never as markup.
//
// For tests and for curious people, window.thundercue offers:
//   seek(seconds)  light(channel number)  level(channel number)  total()  state()  play()  pause()
//   spot(channel number): where its light is drawn, in pixels of the window
//   picture: the stage's canvas          soundTime(): the recording's own position

const byId = (id) => document.getElementById(id);

// Names for places that can't isolate their direction (title, tooltips): without control and direction marks, and short.
function plainText(text, most = 80) {
  const plain = Array.from(String(text).replace(/[\p{Cc}\p{Cf}]/gu, " "));
  return plain.length > most ? `${plain.slice(0, most - 1).join("")}\u2026` : plain.join("");
}

// Names as they are shown: marks that would turn the reading direction of what follows are left out.
function shownText(text) {
  return String(text).replace(/[\u202A-\u202E\u2066-\u2069\p{Cc}]/gu, "");
}

function element(tag, text, className) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (className) made.className = className;
  return made;
}

const countText = (n, one, many) => `${n.toLocaleString("en-GB")} ${n === 1 ? one : many}`;
const wattText = (watts) => `${watts >= 100 ? Math.round(watts) : Number(watts.toFixed(1))} W`;

function lengthText(seconds) {
  if (seconds < 60) return `${Number(seconds.toFixed(1))} s`;
  const whole = Math.round(seconds);
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  return h ? `${h} h ${m} min` : s ? `${m} min ${s} s` : `${m} min`;
}

function openSound(data) {
  if (data.sound.kind === "none") return null;
  const sound = new Audio();
  sound.preload = "auto";
  if (data.sound.kind === "embedded") {
    const bytes = bytesOf(byId("sound-data").textContent);
    sound.src = URL.createObjectURL(new Blob([bytes], { type: data.sound.type }));
  } else sound.src = data.sound.src;
  return sound;
}

// Between two still pictures under a held key or a moving hand: fewer than three flashes a second come of that.
const STILL_MS = 350;

function startPage() {
  const data = JSON.parse(byId("data").textContent);
  data.events = data.events.map(([kind, start_s, end_s, peak_s, strength, sharpness, level_dbfs]) => ({
    kind: kind ? "rumble" : "crack", start_s, end_s, peak_s, strength, sharpness, level_dbfs }));
  const { channels } = data.rig;
  const shift = data.start_s || 0;
  const timeline = new Timeline(data);
  const stage = new Stage(byId("picture"), channels);
  const lights = new Float32Array(channels.length);
  const indexOf = new Map(channels.map((channel, i) => [channel.number, i]));
  const offset = data.sound.offset_s || 0;
  const end = data.duration_s + Math.max(0, offset);
  const cracks = data.events.filter((event) => event.kind === "crack").map((event) => event.start_s);
  const stillOnly = matchMedia("(prefers-reduced-motion: reduce)");
  const look = { brightness: 0.4, showRig: true, marked: -1 };
  let accepted = false;
  let poster = brightestMoment();
  let lastKeyAt = 0;
  let stillTimer = 0;
  let nextStillAt = 0;

  // ---- the picture ----

  // The stroke with the most light: what the page shows, still, before anything plays.
  function brightestMoment() {
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

  let drawn = "";
  function drawPicture(seconds, from = seconds, rest = false) {
    if (rest) lights.fill(0);
    else if (from < seconds) timeline.fillPeaks(lights, from, seconds);
    else timeline.fillLights(lights, seconds);
    let key = `${look.brightness}|${look.showRig}|${look.marked}|${stage.width}x${stage.height}x${stage.scale}`;
    let lit = false;
    for (const light of lights) if (light > 0) lit = true;
    if (lit) key += `|${seconds}|${from}`;
    // In the dark, water without light to ripple with looks the same from one picture to the next.
    if (key === drawn) return;
    drawn = key;
    const start = performance.now();
    stage.draw(lights, { ...look, seconds });
    if (from < seconds && stage.tooSlow(performance.now() - start)) stage.draw(lights, { ...look, seconds });
  }

  function redraw() {
    drawn = "";
    if (poster !== null) drawPicture(poster);
    else drawPicture(player.time);
  }

  function showTime(seconds) {
    byId("now").textContent = timeText(seconds + shift);
    const bar = byId("seek");
    if (document.activeElement !== bar || player.playing) bar.value = seconds;
    bar.style.setProperty("--done", `${(100 * seconds) / end}%`);
    bar.setAttribute("aria-valuetext", `${timeText(seconds + shift)} of ${timeText(end + shift)}`);
    lanes.showHead(seconds);
  }

  function leavePoster() {
    if (poster === null) return;
    poster = null;
    byId("caption").hidden = true;
    byId("big-play").hidden = true;
  }

  function say(words) {
    byId("say").textContent = words;
  }

  // ---- clock and sound ----

  const sound = openSound(data);
  const player = new Player({
    end, sound, offset,
    onTime(seconds, { from, rest }) {
      leavePoster();
      drawPicture(seconds, from, rest);
      showTime(seconds);
      if (player.playing && byId("follow").checked) lanes.follow(seconds);
    },
    onState: showState,
  });

  function showState() {
    document.body.classList.toggle("playing", player.playing);
    byId("play").setAttribute("aria-label", player.playing ? "Pause" : "Play");
    for (const input of byId("speed").querySelectorAll("input")) input.checked = Number(input.value) === player.speed;
    lanes.showChosen(player.loop);
    const words = byId("loop-words");
    for (const id of ["loop-zoom", "loop-clear"]) byId(id).hidden = !player.loop;
    words.textContent = player.loop
      ? `Looping ${timeText(player.loop.from + shift)} to ${timeText(player.loop.to + shift)}, with a second of dark between rounds.`
      : "Drag across the lanes to choose a part to loop.";
    const silent = player.soundFails;
    byId("volume").disabled = byId("mute").disabled = silent;
    byId("mute").textContent = silent ? "None" : sound.muted ? "Off" : "On";
    byId("mute").setAttribute("aria-pressed", String(!silent && sound.muted));
    if (silent && data.sound.kind !== "none") warnOnce("sound", data.sound.kind === "file"
      ? ["The recording ", data.recording, " can't be played from beside this page: put it into the same folder, in a form that this browser plays. Until then the light plays without its sound."]
      : ["This browser can't play the sound in this page; the light plays without it."]);
  }

  function wantPlay() {
    if (stillOnly.matches) {
      say("Still frames only, since this device asks for less motion. Step with the arrow keys.");
      return;
    }
    if (!accepted) {
      byId("notice").hidden = false;
      byId("big-play").hidden = byId("caption").hidden = true;
      byId("notice").scrollIntoView({ block: "nearest" });
      byId("accept").focus();
      return;
    }
    player.play();
    say("Playing");
  }

  function closeNotice() {
    byId("notice").hidden = true;
    byId("big-play").hidden = poster === null || stillOnly.matches;
    byId("caption").hidden = poster === null;
    byId("play").focus();
  }

  function wantPause() {
    player.pause();
    say(`Paused at ${timeText(player.time + shift)}`);
  }

  function seekTo(seconds, words) {
    player.seek(seconds);
    if (!player.playing) lanes.follow(player.time);
    if (words) say(`${words}, ${timeText(player.time + shift)}`);
  }

  // For a slider under a moving hand: until the notice is accepted still pictures come one by one, since light and dark
  // in quick turns are flashes too, whoever makes them.
  function seekGently(seconds) {
    clearTimeout(stillTimer);
    const wait = accepted && !stillOnly.matches ? 0 : nextStillAt - performance.now();
    if (wait > 0) {
      stillTimer = setTimeout(() => seekGently(seconds), wait);
      return;
    }
    nextStillAt = performance.now() + STILL_MS;
    seekTo(seconds);
  }

  // Whole light frames, so that stepping shows the rows of the frames file.
  function step(frames) {
    const at = Math.round(player.time * data.frame_rate * 1e4) / 1e4;
    const next = frames > 0 ? Math.floor(at) + frames : Math.ceil(at) + frames;
    seekTo(next / data.frame_rate);
  }

  // To the light frame that contains the crack, where its stroke starts.
  function toCrack(direction) {
    const frameOf = (seconds) => Math.floor(seconds * data.frame_rate + 1e-6);
    // While playing, "before" means the crack before the one that has just gone by.
    const now = frameOf(player.time - (direction < 0 && player.playing ? 0.5 : 0));
    const frames = cracks.map((at) => frameOf(at + offset));
    const next = direction > 0 ? frames.findIndex((frame) => frame > now) : frames.findLastIndex((frame) => frame < now);
    if (next < 0) return say(direction > 0 ? "No crack after this" : "No crack before this");
    seekTo(frames[next] / data.frame_rate, `Crack ${next + 1} of ${cracks.length}`);
  }

  function setLoop(from, to) {
    if (from === null || to - from < 0.02) player.setLoop(null);
    else player.setLoop(Math.max(0, from), Math.min(end, to));
  }

  const lanes = new Lanes(byId("lanes"), data, timeline, end, {
    seek: (seconds) => seekTo(seconds),
    choose(from, to) {
      setLoop(from, to);
      if (player.loop) seekTo(player.loop.from);
    },
    mark(index) {
      if (look.marked === index) return;
      look.marked = index;
      if (!player.playing) redraw();
    },
  });

  // ---- words ----

  function warnOnce(key, parts) {
    if (byId(`warning-${key}`)) return;
    const line = element("p", undefined, "warning");
    line.id = `warning-${key}`;
    parts.forEach((part, k) => line.append(k % 2 ? element("bdi", shownText(part), "name inline") : part));
    byId("warnings").append(line);
  }

  function timeButton(seconds) {
    const button = element("button", timeText(seconds + shift), "moment");
    button.type = "button";
    button.addEventListener("click", () => seekTo(seconds));
    return button;
  }

  function fact(number, words, ...more) {
    const box = element("div");
    box.append(element("dt", words), element("dd", number, "number"));
    if (more.length) {
      const line = element("dd", undefined, "more");
      line.append(...more);
      box.append(line);
    }
    byId("facts").append(box);
  }

  function fillFacts() {
    const { summary, flash, rig } = data;
    fact(summary.cracks.toLocaleString("en-GB"), summary.cracks === 1 ? "crack" : "cracks");
    fact(summary.strokes.toLocaleString("en-GB"), summary.strokes === 1 ? "stroke" : "strokes");
    fact(summary.rumbles.toLocaleString("en-GB"), summary.rumbles === 1 ? "rumble" : "rumbles");
    fact(`${Math.round(100 * summary.dark_share)} %`, "dark", `longest ${lengthText(summary.longest_dark_s)}`);
    const rate = [];
    if (flash.peak_count > 0) rate.push("at ", timeButton(flash.peak_at_s), flash.limit ? `, limit ${flash.limit}` : ", no limit set");
    else rate.push(flash.limit ? `limit ${flash.limit}` : "no limit set");
    fact(String(flash.peak_count), flash.peak_count === 1 ? "flash at most in one second" : "flashes at most in one second", ...rate);
    const allOn = rig.channels.reduce((sum, channel) => sum + channel.watts, 0);
    const load = [`of ${wattText(allOn)} all on`];
    if (summary.peak_load_w > 0) load.unshift("at ", timeButton(summary.peak_load_at_s), ", ");
    fact(wattText(summary.peak_load_w), "peak load", ...load);

    const { softened, dropped } = flash.changed;
    if (softened + dropped > 0) {
      const words = [dropped && `${countText(dropped, "restrike was", "restrikes were")} left out`,
        softened && `light was held back in ${countText(softened, "light frame", "light frames")}`];
      byId("loads").append(element("p", `To keep to the flash limit, ${words.filter(Boolean).join(" and ")}.`, "changed"));
    }
    if (rig.circuits.length) {
      byId("loads").append(element("h3", "Circuits"));
      const list = element("ul", undefined, "circuits");
      for (const circuit of rig.circuits) list.append(circuitLine(circuit));
      byId("loads").append(list);
      byId("loads").append(element("p", "The mark is 80 % of the breaker. Local code and a licensed electrician decide.", "fine"));
    }
  }

  function circuitLine(circuit) {
    const item = element("li");
    const full = circuit.breaker_amps * circuit.volts;
    const head = element("p", undefined, "circuit-head");
    head.append(named(circuit.name), element("span", `${circuit.breaker_amps} A at ${circuit.volts} V`));
    const bar = element("div", undefined, "bar");
    bar.setAttribute("aria-hidden", "true");
    const most = Math.max(full, circuit.all_on_w, 1);
    for (const [className, watts] of [["all-on", circuit.all_on_w], ["reached", circuit.reached_w]]) {
      const part = element("i", undefined, className);
      part.style.width = `${Math.min(100, (100 * watts) / most)}%`;
      bar.append(part);
    }
    const mark = element("i", undefined, "at80");
    mark.style.left = `${(100 * circuit.advice_w) / most}%`;
    bar.append(mark);
    const words = element("p", undefined, "circuit-words");
    words.append(`reaches ${wattText(circuit.reached_w)}`);
    if (circuit.reached_w > 0) words.append(" at ", timeButton(circuit.reached_at_s));
    words.append(`, all on ${wattText(circuit.all_on_w)}`);
    if (circuit.all_on_w > circuit.advice_w) item.classList.add("above");
    item.append(head, bar, words);
    return item;
  }

  function tableRow(cells) {
    const row = element("tr");
    for (const cell of cells) {
      const box = element("td");
      if (typeof cell === "string" || typeof cell === "number") box.textContent = cell;
      else box.append(cell);
      row.append(box);
    }
    return row;
  }

  const named = (text) => element("bdi", shownText(text), "name");

  function fillWords() {
    document.title = `${plainText(data.title)} - thundercue preview`;
    byId("title").textContent = shownText(data.title);
    byId("title").title = plainText(data.title, 400);
    byId("program").textContent = data.program;
    const under = byId("under");
    under.append(named(data.recording), element("span", lengthText(data.duration_s)),
      element("span", `${countText(channels.length, "channel", "channels")}, ${data.frame_rate} light frames a second`), named(data.rig.name));
    byId("of").textContent = `of ${timeText(end + shift, 0)}`;
    byId("seek").max = end;
    byId("seek").step = 1 / data.frame_rate;
    byId("command").textContent = data.command;
    for (const [name, value, unit, changed] of data.settings) {
      const row = element("div", undefined, changed ? "changed-setting" : "");
      row.append(element("dt", name), element("dd", [value, unit].filter(Boolean).join(" ")));
      byId("settings").append(row);
    }
    for (const note of data.notes) byId("notes").append(element("li", note, "plain"));
    byId("rig-name").append(named(data.rig.name));
    byId("notice-limit").textContent = data.flash.limit
      ? `This timeline has at most ${countText(data.flash.peak_count, "flash", "flashes")} in any one second; that lowers the risk and doesn't end it.`
      : `The flash limit was switched off for this timeline: it has up to ${countText(data.flash.peak_count, "flash", "flashes")} in one second.`;
    if (!data.flash.limit) warnOnce("limit", [`The flash limit was switched off for this timeline: up to ${countText(data.flash.peak_count, "flash", "flashes")} in one second.`]);
    if (!timeline.exact) warnOnce("columns", [`This storm is long, so the page shows its light in steps of ${lengthText(data.light.seconds_each)}; the CSV files have every ramp.`]);
    if (offset > 0) warnOnce("offset", [`The sound starts ${offset.toFixed(2)} s after the light, as far away as the lightning is.`]);
    byId("picture").setAttribute("aria-label", `Night sky over a mill pond with ${countText(channels.filter((c) => c.kind === "branch").length, "branch", "branches")} of lightning and ${countText(stage.floods.length, "flood", "floods")}`);
    for (const speed of SPEEDS) {
      const label = element("label");
      const input = element("input");
      Object.assign(input, { type: "radio", name: "speed", value: speed, checked: speed === 1 });
      input.addEventListener("change", () => player.setSpeed(speed));
      label.append(input, element("span", speed === 1 ? "1" : `1/${Math.round(1 / speed)}`));
      byId("speed").append(label);
    }
    if (data.sound.kind === "none") byId("volume-dial").hidden = true;
    if (!data.wave.count)
      for (const lane of document.querySelectorAll('[data-lane="wave"], [data-lane="bands"]')) lane.hidden = true;
  }

  let listed = 0;
  function listEvents(count) {
    const rows = data.events.slice(listed, listed + count).map((event) => tableRow([event.kind, timeButton(event.start_s + offset),
      timeText(event.end_s + offset + shift), timeText(event.peak_s + offset + shift), event.strength.toFixed(2), event.sharpness.toFixed(2), event.level_dbfs.toFixed(1)]));
    byId("event-rows").append(...rows);
    listed += rows.length;
    byId("more-events").hidden = listed >= data.events.length;
    byId("more-events").textContent = `Show more (${(data.events.length - listed).toLocaleString("en-GB")} left)`;
  }

  function listChannels() {
    if (byId("channel-rows").childElementCount) return;
    byId("channel-rows").append(...channels.map((channel) => tableRow([channel.number, named(channel.name), channel.kind,
      channel.parent ? String(channel.parent) : "", wattText(channel.watts), named(channel.circuit), channel.curve, `${channel.min_level} to ${channel.max_level}`])));
  }

  // ---- the user ----

  function setBrightness(percent) {
    look.brightness = percent / 100;
    byId("brightness-value").textContent = `${percent} %`;
    redraw();
  }

  function setMuted(muted) {
    if (!sound || player.soundFails) return;
    sound.muted = muted;
    showState();
    say(muted ? "Sound off" : "Sound on");
  }

  function wholeScreen() {
    if (document.fullscreenElement) document.exitFullscreen();
    else if (byId("theatre").requestFullscreen) byId("theatre").requestFullscreen().catch(() => say("This browser keeps the page in its window"));
  }

  function showStillOnly() {
    if (stillOnly.matches && player.playing) player.pause();
    document.body.classList.toggle("still-only", stillOnly.matches);
    byId("play").disabled = stillOnly.matches;
    byId("big-play").hidden = poster === null || stillOnly.matches;
    if (stillOnly.matches) {
      byId("notice").hidden = true;
      warnOnce("still", ["This device asks for less motion, so the page shows still frames: step through them with the arrow keys, the buttons, or a click on the lanes."]);
    } else if (byId("warning-still")) byId("warning-still").remove();
  }

  const keys = {
    " ": () => (player.playing ? wantPause() : wantPlay()),
    ArrowLeft: (event) => (event.shiftKey || player.playing ? seekTo(player.time - 1) : step(-1)),
    ArrowRight: (event) => (event.shiftKey || player.playing ? seekTo(player.time + 1) : step(1)),
    Home: () => seekTo(0, "Start"),
    End: () => seekTo(end, "End"),
    n: () => toCrack(1),
    p: () => toCrack(-1),
    m: () => setMuted(!sound || !sound.muted),
    f: wholeScreen,
    "+": () => lanes.zoom(0.5, player.time),
    "=": () => lanes.zoom(0.5, player.time),
    "-": () => lanes.zoom(2, player.time),
    0: () => lanes.setView(0, end),
    "[": () => setLoop(player.time, player.loop ? Math.max(player.loop.to, player.time + 0.1) : end),
    "]": () => setLoop(player.loop ? Math.min(player.loop.from, player.time - 0.1) : 0, player.time),
    Escape: () => (byId("notice").hidden ? setLoop(null) : closeNotice()),
  };
  SPEEDS.forEach((speed, k) => (keys[k + 1] = () => player.setSpeed(speed)));

  function onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const on = event.target;
    const holdsKey = on.closest && on.closest("input, button, summary, a, select, textarea");
    const isButtonKey = event.key === " " || event.key === "Enter";
    if (holdsKey && isButtonKey && on.id !== "seek") return;
    if (on.matches && on.matches("input[type=range]:not(#seek), input[type=radio]") && /^(Arrow|Home|End|Page)/.test(event.key)) return;
    const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    // A key held down would run through the strokes faster than any limit allows.
    const quick = /^[np]$/i.test(event.key) || (/^Arrow/.test(event.key) && (!accepted || event.shiftKey));
    if (event.repeat && quick && performance.now() - lastKeyAt < STILL_MS) return;
    lastKeyAt = performance.now();
    act(event);
  }

  function listen() {
    const click = (id, act) => byId(id).addEventListener("click", act);
    click("play", () => (player.playing ? wantPause() : wantPlay()));
    click("big-play", wantPlay);
    click("accept", () => {
      accepted = true;
      closeNotice();
      wantPlay();
    });
    click("decline", closeNotice);
    click("to-start", () => seekTo(0, "Start"));
    click("crack-before", () => toCrack(-1));
    click("crack-next", () => toCrack(1));
    click("step-back", () => step(-1));
    click("step-on", () => step(1));
    click("whole-screen", wholeScreen);
    click("mute", () => setMuted(!sound.muted));
    click("zoom-in", () => lanes.zoom(0.5, player.time));
    click("zoom-out", () => lanes.zoom(2, player.time));
    click("zoom-all", () => lanes.setView(0, end));
    click("loop-clear", () => setLoop(null));
    click("loop-zoom", () => player.loop && lanes.setView(player.loop.from - 0.1 * (player.loop.to - player.loop.from), player.loop.to + 0.1 * (player.loop.to - player.loop.from)));
    click("more-events", () => listEvents(500));
    byId("seek").addEventListener("input", (event) => seekGently(Number(event.target.value)));
    byId("brightness").addEventListener("input", (event) => setBrightness(Number(event.target.value)));
    byId("volume").addEventListener("input", (event) => sound && (sound.volume = Number(event.target.value) / 100));
    byId("show-rig").addEventListener("change", (event) => {
      look.showRig = event.target.checked;
      redraw();
    });
    byId("list").addEventListener("toggle", () => listed || listEvents(200));
    byId("rig").addEventListener("toggle", listChannels);
    byId("picture").addEventListener("pointermove", (event) => {
      const box = byId("picture").getBoundingClientRect();
      const index = stage.branchNear(event.clientX - box.left, event.clientY - box.top);
      byId("picture").title = index < 0 ? "" : `${channels[index].number}: ${plainText(channels[index].name)}`;
    });
    document.addEventListener("keydown", onKey);
    stillOnly.addEventListener("change", showStillOnly);
    matchMedia("print").addEventListener("change", () => lanes.drawAll());
    window.addEventListener("beforeprint", () => {
      listed || listEvents(200);
      listChannels();
      for (const paper of document.querySelectorAll(".papers details")) paper.open = true;
    });
    new ResizeObserver(() => {
      if (stage.resize()) redraw();
      lanes.resize();
    }).observe(document.body);
    new ResizeObserver(() => stage.resize() && redraw()).observe(byId("stage"));
  }

  fillWords();
  fillFacts();
  listen();
  if (sound) sound.volume = 0.8;
  stage.resize();
  lanes.resize();
  byId("caption").textContent = poster === null ? "" : `Still picture: the brightest stroke, at ${timeText(poster + shift)}`;
  byId("big-play").hidden = poster === null;
  byId("big-play-word").textContent = "Play the storm";
  redraw();
  showTime(0);
  showState();
  showStillOnly();

  window.thundercue = Object.freeze({
    seek: (seconds) => seekTo(seconds),
    light: (number) => timeline.light(indexOf.get(number), player.time),
    level: (number) => timeline.level(indexOf.get(number), player.time),
    total: () => timeline.totalLight(player.time),
    play: wantPlay,
    pause: wantPause,
    picture: byId("picture"),
    spot(number) {
      const spot = stage.spotOf(indexOf.get(number));
      const box = byId("picture").getBoundingClientRect();
      return spot && { x: box.left + spot[0], y: box.top + spot[1] };
    },
    soundTime: () => (sound && !player.soundFails ? sound.currentTime : null),
    state: () => ({ time: player.time, playing: player.playing, speed: player.speed, loop: player.loop && { ...player.loop },
      accepted, poster, view: { ...lanes.view }, end, stillOnly: stillOnly.matches, sound: data.sound.kind !== "none" && !player.soundFails }),
  });
}

startPage();
