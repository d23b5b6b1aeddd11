// What to know at a glance: numbers of the storm, flash rate, loads.

// A moment as it is told at a glance: of an evening by the visitors' clocks, as its time line does.
function momentText(app, seconds) {
  return app.data.night ? clockText(app.data.night, seconds - app.offset, 3) : timeText(seconds + app.shift);
}

function timeButton(app, seconds, text = timeText(seconds + app.shift)) {
  const button = element("button", text, "moment");
  button.type = "button";
  button.addEventListener("click", () => app.transport.seek(seconds));
  return button;
}

const momentButton = (app, seconds) => timeButton(app, seconds, momentText(app, seconds));

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

// What to make of the dark between flashes, and what would change it.
function darkVerdict(share) {
  if (share >= 0.65) return "dark between flashes, as in a real storm";
  if (share >= 0.35) return "light lingers; for more dark, lower Rumble light";
  return "seldom dark; for more dark, lower Rumble light";
}

function fillFacts(app) {
  const { summary, flash, rig } = app.data;
  byId("facts").replaceChildren();
  byId("loads").replaceChildren();
  fact(summary.cracks.toLocaleString("en-GB"), summary.cracks === 1 ? "crack" : "cracks");
  fact(summary.strokes.toLocaleString("en-GB"), summary.strokes === 1 ? "stroke" : "strokes");
  fact(summary.rumbles.toLocaleString("en-GB"), summary.rumbles === 1 ? "rumble" : "rumbles");
  fact(`${Math.round(100 * summary.dark_share)} %`, "dark", `longest dark ${lengthText(summary.longest_dark_s)}; ${darkVerdict(summary.dark_share)}`);
  const rate = [];
  const half = flash.peak_count % 1 ? "; a flash that only starts or only ends in it counts half" : "";
  if (flash.peak_count > 0) rate.push("at ", momentButton(app, flash.peak_at_s), flash.limit ? `, limit ${flash.limit}` : ", no limit set", half);
  else rate.push(flash.limit ? `limit ${flash.limit}` : "no limit set");
  fact(String(flash.peak_count), flash.peak_count === 1 ? "flash at most in one second" : "flashes at most in one second", ...rate);
  const allOn = rig.channels.reduce((sum, channel) => sum + channel.watts, 0);
  const load = [`of ${wattText(allOn)} all on`];
  if (summary.peak_load_w > 0) load.unshift("at ", momentButton(app, summary.peak_load_at_s), ", ");
  fact(wattText(summary.peak_load_w), "peak load", ...load);

  const { softened, dropped } = flash.changed;
  if (softened + dropped > 0) {
    const words = [dropped && `${countText(dropped, "restrike was", "restrikes were")} left out`,
      softened && `light was held back in ${countText(softened, "light frame", "light frames")}`];
    byId("loads").append(element("p", `To keep to the flash limit, ${words.filter(Boolean).join(" and ")}.`, "changed"));
  }
  const tellCracks = (cracks, words) => {
    if (!cracks.length) return;
    const line = element("p", words, "changed");
    cracks.slice(0, 6).forEach((event, k) => line.append(k ? ", " : "", momentButton(app, event.start_s + app.offset)));
    if (cracks.length > 6) line.append(" and more");
    byId("loads").append(line);
  };
  tellCracks(app.dimmed, `${countText(summary.held_back, "crack stays", "cracks stay")} nearly dark for the flash limit: `);
  tellCracks(app.unlit, `${countText(app.unlit.length, "crack brings", "cracks bring")} no light of ${app.unlit.length === 1 ? "its" : "their"} own: `);
  if (rig.circuits.length) {
    byId("loads").append(element("h3", "Circuits"));
    const list = element("ul", undefined, "circuits");
    for (const circuit of rig.circuits) list.append(circuitLine(app, circuit));
    byId("loads").append(list);
    byId("loads").append(element("p", "The mark is 80 % of the breaker. Local code and a licensed electrician decide.", "fine"));
  }
}

function circuitLine(app, circuit) {
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
  if (circuit.reached_w > 0) words.append(" at ", momentButton(app, circuit.reached_at_s));
  const ofBreaker = (watts) => (full > 0 ? ` (${Number(((100 * watts) / full).toPrecision(2))} % of the breaker)` : "");
  words.append(`, all on ${wattText(circuit.all_on_w)}${ofBreaker(circuit.all_on_w)}`);
  if (circuit.all_on_w > circuit.advice_w) item.classList.add("above");
  item.append(head, bar, words);
  return item;
}
