// The words of the page: title, warnings, how it was made, and the tables.

function warnOnce(key, parts) {
  if (byId(`warning-${key}`)) return;
  const line = element("p", undefined, "warning");
  line.id = `warning-${key}`;
  parts.forEach((part, k) => line.append(k % 2 ? element("bdi", shownText(part), "name inline") : part));
  byId("warnings").append(line);
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

// Rows of the list of cracks and rumbles that one click adds.
const EVENTS_MORE = 500;

// The words that change when the storm is cued anew.
function fillShow(app) {
  const { data, shift, end, offset } = app;
  for (const key of ["limit", "offset"]) if (byId(`warning-${key}`)) byId(`warning-${key}`).remove();
  byId("under-channels").textContent = `${countText(app.channels.length, "channel", "channels")}, ${countText(data.frame_rate, "light frame", "light frames")} a second`;
  byId("of").textContent = `of ${timeText(end + shift, 0)}`;
  byId("seek").max = end;
  byId("seek").step = 1 / data.frame_rate;
  byId("command").textContent = data.command;
  byId("notes").replaceChildren(...data.notes.map((note) => element("li", note, "plain")));
  byId("settings").replaceChildren();
  for (const [name, value, unit, changed] of data.settings) {
    const row = element("div", undefined, changed ? "changed-setting" : "");
    row.append(element("dt", settingWords(name)), element("dd", valueWords(name, value, unit)));
    row.title = `--${name}`;
    byId("settings").append(row);
  }
  // A flash that has only begun is one more to be told of here.
  const flashes = countText(Math.ceil(data.flash.peak_count), "flash", "flashes");
  byId("notice-limit").textContent = data.flash.limit
    ? `This timeline has at most ${flashes} in any one second; that lowers the risk but can't rule it out.`
    : `The flash limit was switched off for this timeline: it has up to ${flashes} in one second.`;
  if (!data.flash.limit) warnOnce("limit", [`The flash limit was switched off for this timeline: up to ${flashes} in one second.`]);
  if (offset > 0) warnOnce("offset", [`The sound starts ${offset.toFixed(2)} s after the light, as far away as the lightning is.`]);
  byId("event-rows").replaceChildren();
  if (byId("list").open) listEvents(app, 200);
}

// The words about the rig.
function fillRig(app) {
  const { data, channels, stage } = app;
  byId("under-rig").textContent = shownText(data.rig.name);
  byId("rig-name").replaceChildren(named(data.rig.name));
  byId("picture").setAttribute("aria-label", `Night sky over a mill pond with ${countText(channels.filter((c) => c.kind === "branch").length, "branch", "branches")} of lightning and ${countText(stage.floods.length, "flood", "floods")}`);
  byId("channel-rows").replaceChildren();
  if (byId("rig").open) listChannels(app);
}

function showTitle({ data }) {
  document.title = `${plainText(data.title)} - thundercue preview`;
  byId("title").textContent = shownText(data.title);
  byId("title").title = plainText(data.title, 400);
}

function fillWords(app) {
  const { data, timeline, player } = app;
  showTitle(app);
  byId("program").textContent = data.program;
  const under = byId("under");
  under.append(named(data.recording), element("span", lengthText(data.length_s)),
    Object.assign(element("span"), { id: "under-channels" }), Object.assign(named(""), { id: "under-rig" }));
  fillRig(app);
  if (!timeline.exact) warnOnce("columns", [`This storm is long, so the page shows its light in steps of ${lengthText(data.light.seconds_each)}; the CSV files have every ramp.`]);
  for (const speed of SPEEDS) {
    const label = element("label");
    const input = element("input");
    Object.assign(input, { type: "radio", name: "speed", value: speed, checked: speed === 1 });
    input.addEventListener("change", () => player.setSpeed(speed));
    label.append(input, element("span", speed === 1 ? "1" : `1/${Math.round(1 / speed)}`));
    byId("speed").append(label);
  }
  fillShow(app);
  if (data.sound.kind === "none") byId("volume-dial").hidden = true;
  if (!data.wave.count)
    for (const lane of document.querySelectorAll('[data-lane="wave"], [data-lane="bands"]')) lane.hidden = true;
}

// Goes to an event and takes it in hand.
function eventButton(app, event) {
  const button = timeButton(app, event.start_s + app.offset);
  button.addEventListener("click", () => app.bench && app.bench.hand.chooseEvent(event));
  return button;
}

function listEvents(app, count) {
  const { data, offset, shift } = app;
  const listed = byId("event-rows").childElementCount;
  const rows = data.events.slice(listed, listed + count).map((event) => tableRow([event.kind, eventButton(app, event),
    timeText(event.end_s + offset + shift), timeText(event.peak_s + offset + shift), event.strength.toFixed(2), event.sharpness.toFixed(2), event.level_dbfs.toFixed(1)]));
  byId("event-rows").append(...rows);
  const shown = listed + rows.length;
  byId("more-events").hidden = shown >= data.events.length;
  byId("more-events").textContent = `Show ${Math.min(EVENTS_MORE, data.events.length - shown).toLocaleString("en-GB")} more`;
}

function listChannels({ channels }) {
  if (byId("channel-rows").childElementCount) return;
  byId("channel-rows").append(...channels.map((channel) => tableRow([channel.number, named(channel.name), channel.kind,
    channel.parent ? String(channel.parent) : "", wattText(channel.watts), named(channel.circuit), channel.curve, `${channel.min_level} to ${channel.max_level}`])));
}
