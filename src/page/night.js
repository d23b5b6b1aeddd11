// The evening: what will happen when, on a time line with a row for each hour or so, and the running order.

const ROW_MINUTES = [1, 2, 5, 10, 15, 30, 60, 120, 180, 240];
const ROWS_MOST = 8;
const TICKS_A_ROW = 6;
const DAY_S = 86400;
const HERE_EACH_MS = 500;

// Times as the visitors' clocks show them, where the evening has a time of day; else from its start.
function clockText(night, seconds, places = 0) {
  if (night.day_s === undefined) return timeText(seconds, places);
  const day = Math.round(night.day_s + seconds) % DAY_S;
  return [Math.floor(day / 3600), Math.floor(day / 60) % 60, day % 60].map((part) => String(part).padStart(2, "0")).join(":");
}

const shortClock = (night, seconds) => (night.day_s === undefined ? timeText(seconds, 0) : clockText(night, seconds).slice(0, 5));

function turnsOf(night) {
  return night.turns.map(([start, end, file, storm, gain]) => ({ start, end, storm, gain, file: night.files[file][0], near: night.files[file][1] }));
}

// Turns that follow each other in one storm; an opening or closing clip stands alone.
function stormsOf(turns) {
  const storms = [];
  for (const turn of turns) {
    const last = storms[storms.length - 1];
    if (last && last.number === turn.storm) last.turns.push(turn);
    else storms.push({ number: turn.storm, turns: [turn] });
  }
  for (const storm of storms) {
    storm.start = storm.turns[0].start;
    storm.end = Math.max(...storm.turns.map((turn) => turn.end));
    storm.nearest = storm.turns.reduce((best, turn) => (turn.near > best.near ? turn : best));
  }
  return storms;
}

// What sounds at any moment counts once, also where clips overlap.
function soundingSeconds(turns) {
  let sum = 0, until = 0, silence = 0;
  for (const turn of turns) {
    silence = Math.max(silence, turn.start - until);
    sum += Math.max(0, turn.end - Math.max(turn.start, until));
    until = Math.max(until, turn.end);
  }
  return { sum, silence };
}

function eveningWords(night, turns, storms) {
  const words = byId("evening-words");
  const numbered = storms.filter((storm) => storm.number);
  const { sum, silence } = soundingSeconds(turns);
  const bold = (text) => element("b", text);
  words.append("From ", bold(clockText(night, turns[0].start)), " to ", bold(clockText(night, night.length_s)), ": ",
    bold(countText(numbered.length, "storm", "storms")), ` of ${countText(turns.length, "clip", "clips")} in all, from ${countText(night.files.length, "recording", "recordings")}. `,
    `Thunder sounds for ${Math.round((100 * sum) / night.length_s)} % of the time, and the longest silence lasts ${lengthText(silence)}.`);
  if (night.quiet) words.append(` No thunder from ${clockText(night, night.quiet[0])} to ${clockText(night, night.quiet[1])}.`);
  if (night.under) words.append(" Beneath it plays ", named(night.under), ".");
}

// ---- the time line ----

// Rows of one length, which begin at round times of day.
function rowsOf(night) {
  const first = night.day_s || 0;
  for (const minutes of ROW_MINUTES) {
    const each = 60 * minutes, from = Math.floor(first / each) * each - first;
    const count = Math.ceil((night.length_s - from) / each);
    if (count <= ROWS_MOST || minutes === ROW_MINUTES[ROW_MINUTES.length - 1])
      return Array.from({ length: count }, (_, k) => ({ from: from + k * each, to: from + (k + 1) * each }));
  }
  return [];
}

// When storms begin, in as few words as tell them apart.
function labelStorms(night, storms) {
  const short = storms.map((storm) => shortClock(night, storm.start));
  const write = new Set(short).size < short.length ? clockText : shortClock;
  for (const storm of storms) storm.label = write(night, storm.start);
}

// A part of a row between two moments; null where they don't reach it.
function stretch(row, tag, className, from, to, text) {
  const left = Math.max(from, row.from), right = Math.min(to, row.to);
  if (right <= left) return null;
  const part = element(tag, text, className);
  const share = (seconds) => `${(100 * seconds) / (row.to - row.from)}%`;
  part.style.left = share(left - row.from);
  part.style.width = share(right - left);
  row.lane.append(part);
  return part;
}

function nearColour(near) {
  return `hsl(${224 - 0.3 * near} ${80 - 0.35 * near}% ${52 + 0.42 * near}%)`;
}

function drawTurn(app, night, row, turn) {
  const bar = stretch(row, "button", "turn", turn.start, turn.end);
  if (!bar) return;
  bar.type = "button";
  bar.tabIndex = -1; // the running order has the same by keyboard
  bar.style.height = `${22 + 0.4 * turn.near}%`;
  bar.style.setProperty("--near", nearColour(turn.near));
  bar.title = `${clockText(night, turn.start)} ${plainText(turn.file)}, ${lengthText(turn.end - turn.start)}${turn.storm ? `, storm ${turn.storm}` : ""}`;
  bar.addEventListener("click", () => app.transport.seek(turn.start + app.offset));
}

function drawRow(app, night, row, turns, storms) {
  const line = element("div", undefined, "hour");
  row.lane = element("div", undefined, "hour-lane");
  line.append(element("span", shortClock(night, row.from)), row.lane);
  for (const storm of storms) {
    const part = storm.number && stretch(row, "span", "storm", storm.start, storm.end);
    if (part && storm.start >= row.from) part.append(element("b", String(storm.number)), element("i", ` \u00B7 ${storm.label}`));
  }
  if (night.quiet) stretch(row, "span", "quiet", night.quiet[0], night.quiet[1], "quiet");
  for (let k = 1; k < TICKS_A_ROW; k++) stretch(row, "i", "tick", row.from + (k * (row.to - row.from)) / TICKS_A_ROW, row.to).style.width = "";
  for (const turn of turns) drawTurn(app, night, row, turn);
  stretch(row, "span", "outside", row.from, 0);
  stretch(row, "span", "outside", night.length_s, row.to);
  byId("hours").append(line);
}

// Where the player is.
function followHere(app, rows) {
  const here = element("i", undefined, "here");
  const show = () => {
    const at = app.player.time - app.offset;
    const row = rows.find((candidate) => at >= candidate.from && at < candidate.to);
    if (!row) return here.remove();
    if (here.parentNode !== row.lane) row.lane.append(here);
    here.style.left = `${(100 * (at - row.from)) / (row.to - row.from)}%`;
  };
  show();
  const clock = setInterval(show, HERE_EACH_MS);
  app.leaving.addEventListener("abort", () => clearInterval(clock));
}

// ---- the lists ----

function clockButton(app, night, seconds) {
  const button = element("button", clockText(night, seconds), "moment");
  button.type = "button";
  button.addEventListener("click", () => app.transport.seek(Math.max(0, seconds + app.offset)));
  return button;
}

function listStorms(app, night, storms) {
  for (const storm of storms)
    byId("storm-rows").append(tableRow([storm.number ? String(storm.number) : "alone", clockButton(app, night, storm.start), clockText(night, storm.end),
      lengthText(Math.round(storm.end - storm.start)), String(storm.turns.length), clockButton(app, night, storm.nearest.start), named(storm.nearest.file)]));
}

function listOrder(app, night, turns) {
  let until = 0, storm = 0;
  for (const turn of turns) {
    const gap = turn.start - until;
    const row = tableRow([clockButton(app, night, turn.start), named(turn.file), turn.storm ? String(turn.storm) : "", turn === turns[0] ? "" : gap < 0 ? `overlaps by ${lengthText(-gap)}` : lengthText(gap),
      lengthText(turn.end - turn.start), `${turn.gain >= 0 ? "+" : "\u2212"}${Math.abs(turn.gain).toFixed(1)} dB`]);
    if (turn.storm !== storm) row.className = "begins";
    byId("order-rows").append(row);
    storm = turn.storm;
    until = Math.max(until, turn.end);
  }
}

// The page of an evening begins with it; what to know at a glance stands beside (placeParts).
function openEvening(app) {
  const { night } = app.data;
  if (!night) return;
  const turns = turnsOf(night), storms = stormsOf(turns), rows = rowsOf(night);
  byId("evening").hidden = false;
  document.body.classList.add("an-evening");
  eveningWords(night, turns, storms);
  labelStorms(night, storms);
  for (const row of rows) drawRow(app, night, row, turns, storms);
  byId("hours").setAttribute("aria-label", `Time line of the evening with ${countText(turns.length, "clip", "clips")}; the running order below has the same`);
  listStorms(app, night, storms);
  byId("order-list").querySelector("summary").append(`: ${countText(turns.length, "clip", "clips")}`);
  byId("order-list").addEventListener("toggle", () => byId("order-rows").childElementCount || listOrder(app, night, turns));
  window.addEventListener("beforeprint", () => {
    if (!byId("order-rows").childElementCount) listOrder(app, night, turns);
    byId("storm-list").open = byId("order-list").open = true;
  }, { signal: app.leaving });
  byId("big-play-word").textContent = "Play the evening";
  followHere(app, rows);
}
