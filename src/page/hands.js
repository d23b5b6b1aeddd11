// The user's hands: keys, clicks, sliders, and the size of the window.

function wholeScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else if (byId("theatre").requestFullscreen) byId("theatre").requestFullscreen().catch(() => say("This browser keeps the page in its window"));
}

// What each key does; letters in lower case.
function keysOf(app) {
  const { transport, player, lanes } = app;
  const keys = {
    " ": () => transport.toggle(),
    ArrowLeft: (event) => (event.shiftKey || player.playing ? transport.seek(player.time - 1) : transport.step(-1)),
    ArrowRight: (event) => (event.shiftKey || player.playing ? transport.seek(player.time + 1) : transport.step(1)),
    Home: () => transport.seek(0, "Start"),
    End: () => transport.seek(app.end, "End"),
    n: () => transport.toCrack(1),
    p: () => transport.toCrack(-1),
    m: () => transport.setMuted(!transport.sound || !transport.sound.muted),
    f: wholeScreen,
    "+": () => lanes.zoom(0.5, player.time),
    "=": () => lanes.zoom(0.5, player.time),
    "-": () => lanes.zoom(2, player.time),
    0: () => lanes.setView(0, app.end),
    "[": () => transport.startLoopHere(),
    "]": () => transport.endLoopHere(),
    Escape: () => (byId("notice").hidden ? transport.setLoop(null) : transport.closeNotice()),
  };
  SPEEDS.forEach((speed, k) => (keys[k + 1] = () => player.setSpeed(speed)));
  return keys;
}

function listenToKeys(app) {
  const keys = keysOf(app);
  let lastKeyAt = 0;
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const on = event.target;
    const holdsKey = on.closest && on.closest("input, button, summary, a, select, textarea");
    const isButtonKey = event.key === " " || event.key === "Enter";
    if (holdsKey && isButtonKey && on.id !== "seek") return;
    if (on.matches && on.matches("input[type=number], select")) return;
    if (on.matches && on.matches("input[type=range]:not(#seek), input[type=radio], input[type=number], select") && /^(Arrow|Home|End|Page)/.test(event.key)) return;
    const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault();
    // A key held down would run through the strokes faster than any limit allows.
    const quick = /^[np]$/i.test(event.key) || (/^Arrow/.test(event.key) && (!app.transport.accepted || event.shiftKey));
    if (event.repeat && quick && performance.now() - lastKeyAt < STILL_MS) return;
    lastKeyAt = performance.now();
    act(event);
  }, { signal: app.leaving });
}

function listenToButtons(app) {
  const { transport, player, lanes, picture } = app;
  const click = (id, act) => byId(id).addEventListener("click", act);
  click("play", () => transport.toggle());
  click("lanes-play", () => transport.toggle());
  click("big-play", () => transport.play());
  click("accept", () => transport.accept());
  click("decline", () => transport.closeNotice());
  click("to-start", () => transport.seek(0, "Start"));
  click("crack-before", () => transport.toCrack(-1));
  click("crack-next", () => transport.toCrack(1));
  click("step-back", () => transport.step(-1));
  click("step-on", () => transport.step(1));
  click("whole-screen", wholeScreen);
  click("mute", () => transport.setMuted(!transport.sound.muted));
  click("zoom-in", () => lanes.zoom(0.5, player.time));
  click("zoom-out", () => lanes.zoom(2, player.time));
  click("zoom-all", () => lanes.setView(0, app.end));
  click("loop-clear", () => transport.setLoop(null));
  click("loop-zoom", () => transport.zoomToLoop());
  click("loop-here", () => transport.loopHere());
  for (const end of ["from", "to"])
    byId(`loop-${end}`).addEventListener("change", (event) => (event.target.value === "" ? transport.showState() : transport.setLoopEnd(end, Number(event.target.value))));
  click("more-events", () => listEvents(app, EVENTS_MORE));
  const input = (id, act) => byId(id).addEventListener("input", (event) => act(Number(event.target.value)));
  input("seek", (seconds) => transport.seekGently(seconds));
  input("brightness", (percent) => picture.setBrightness(percent));
  input("volume", (percent) => transport.sound && (transport.sound.volume = percent / 100));
  byId("show-rig").addEventListener("change", (event) => picture.showRig(event.target.checked));
  byId("list").addEventListener("toggle", () => byId("event-rows").childElementCount || listEvents(app, 200));
  byId("rig").addEventListener("toggle", () => listChannels(app));
  byId("picture").addEventListener("pointermove", (event) => {
    const box = byId("picture").getBoundingClientRect();
    const index = app.stage.branchNear(event.clientX - box.left, event.clientY - box.top);
    byId("picture").title = index < 0 ? "" : `${app.channels[index].number}: ${plainText(app.channels[index].name)}`;
  });
  transport.stillOnly.addEventListener("change", () => transport.showStillOnly(), { signal: app.leaving });
}

function listenToPaper(app) {
  matchMedia("print").addEventListener("change", () => app.lanes.drawAll(), { signal: app.leaving });
  window.addEventListener("beforeprint", () => {
    if (!byId("event-rows").childElementCount) listEvents(app, 200);
    listChannels(app);
    for (const paper of document.querySelectorAll(".papers details")) paper.open = true;
  }, { signal: app.leaving });
}

// What is looked at together stands together on a narrow page, in the order in which keys go through it.
function placeParts(app) {
  const narrow = matchMedia("(max-width: 640px)");
  const place = () => {
    const glance = document.querySelector(".glance");
    if (narrow.matches) document.querySelector(".papers").before(glance);
    else (app.data.night ? byId("evening") : document.querySelector(".house")).append(glance);
  };
  place();
  narrow.addEventListener("change", place, { signal: app.leaving });
}

function listenToSize(app) {
  const { stage, lanes, picture } = app;
  const body = new ResizeObserver(() => {
    if (stage.resize()) picture.redraw();
    lanes.resize();
  });
  const theatre = new ResizeObserver(() => stage.resize() && picture.redraw());
  body.observe(document.body);
  body.observe(byId("lane-stack")); // makes room for the workbench beside it
  theatre.observe(byId("stage"));
  app.leaving.addEventListener("abort", () => {
    body.disconnect();
    theatre.disconnect();
  });
}
