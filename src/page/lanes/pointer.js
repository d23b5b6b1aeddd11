// The pointer over the lanes: a click seeks, a drag moves a crack or chooses a loop, a finger moves the view, two pinch it,
// and what lies under the pointer is told in a few words beside it.

// A crack can be taken so many pixels to each side of its mark: 24 across, as WCAG 2.2 (2.5.8) asks for.
const CRACK_REACH = 12;
const PICK_REACH = 8;
const TREMBLE = 4;

// The crack that a drag from here moves, or null. A finger takes only the crack in hand, so that one that moves the page or
// the view moves no crack by mistake.
function crackToCarry(lanes, event, lane, x) {
  if (lane !== "events" || !lanes.wants.canCarry()) return null;
  const box = lanes.lanes.events.canvas.getBoundingClientRect();
  if (event.clientY - box.top > CRACKS_SHARE * box.height) return null;
  const within = (crack) => Math.abs(lanes.x(crack.start_s + lanes.offset) - x) <= CRACK_REACH;
  if (event.pointerType === "touch") return lanes.inHand && lanes.inHand.kind === "crack" && within(lanes.inHand) ? lanes.inHand : null;
  return crackNear(lanes, x, CRACK_REACH);
}

function crackNear(lanes, x, reach) {
  const away = (crack) => Math.abs(lanes.x(crack.start_s + lanes.offset) - x);
  return lanes.cracks.filter((crack) => away(crack) <= reach).sort((a, b) => away(a) - away(b))[0] || null;
}

function listenToPointer(lanes) {
  const stack = lanes.root.querySelector("#lane-stack");
  const place = (event) => {
    const box = stack.getBoundingClientRect();
    return { x: event.clientX - box.left - stack.clientLeft - lanes.gutter, y: event.clientY - box.top };
  };
  const laneAt = (event) => {
    const lane = event.target.closest && event.target.closest(".lane");
    return lane ? lane.dataset.lane : null;
  };
  const touches = new Map();
  let drag = null;

  // The crack goes with the pointer, no further than the view.
  const carry = (x) => {
    if (!drag.carried) {
      drag.carried = lanes.wants.carry(drag.crack);
      setCarrying(true);
    }
    const at = lanes.seconds(Math.min(lanes.plot, Math.max(0, x))) - drag.at + drag.crack.start_s;
    const now = drag.carried.to(at);
    // A line down all lanes, to find the attack in the waveform by.
    lanes.hair.hidden = false;
    lanes.hair.style.transform = `translateX(${lanes.x(now + lanes.offset)}px)`;
    showWords(lanes, [`crack at ${timeText(now + (lanes.data.start_s || 0) + lanes.offset)}`], x, drag.y);
  };
  const letGo = (how) => {
    if (!drag.carried) return;
    setCarrying(false);
    lanes.tip.hidden = lanes.hair.hidden = true;
    drag.carried[how]();
    if (drag.all) lanes.setView(0, lanes.end);
    else lanes.placeChip();
  };
  const setCarrying = (on) => {
    lanes.carrying = on;
    stack.classList.toggle("carrying", on);
  };
  // While a crack is carried the keys wait, but for Escape, which puts it back.
  document.addEventListener("keydown", (event) => {
    if (!lanes.carrying) return;
    event.stopPropagation();
    if (!(event.ctrlKey || event.metaKey || event.altKey) || /^[zy]$/i.test(event.key)) event.preventDefault();
    if (event.key !== "Escape") return;
    letGo("back");
    drag = { kind: "spent" };
  }, { capture: true, signal: lanes.leaving });

  stack.addEventListener("pointerdown", (event) => {
    const { x, y } = place(event);
    const lane = laneAt(event);
    if (!lane || event.target.closest("button") || x < 0 || x > lanes.plot || event.button !== 0) return;
    touches.set(event.pointerId, event.clientX);
    if (touches.size === 2) {
      if (drag) letGo("back");
      const [a, b] = [...touches.values()];
      drag = { kind: "pinch", gap: Math.max(8, Math.abs(a - b)), view: { ...lanes.view } };
      return;
    }
    if (touches.size > 2) return;
    const crack = crackToCarry(lanes, event, lane, x);
    const kind = lane === "overview" ? "window" : crack ? "carry" : event.pointerType === "touch" ? "pan" : "choose";
    drag = { kind, lane, crack, x, y, moved: false, view: { ...lanes.view }, all: lanes.showsAll, at: lanes.seconds(x) };
    if (kind === "window") moveWindow(lanes, x);
    stack.setPointerCapture(event.pointerId);
  });

  stack.addEventListener("pointermove", (event) => {
    const { x, y } = place(event);
    if (touches.has(event.pointerId)) touches.set(event.pointerId, event.clientX);
    if (!drag) {
      stack.classList.toggle("over-crack", Boolean(crackToCarry(lanes, event, laneAt(event), x)));
      showTip(lanes, laneAt(event), x, y, event);
      return;
    }
    if (drag.kind === "pinch") {
      const [a, b] = [...touches.values()];
      const span = drag.view.to - drag.view.from;
      const middle = drag.view.from + span / 2;
      const wide = (span * drag.gap) / Math.max(8, Math.abs(a - b));
      lanes.setView(middle - wide / 2, middle + wide / 2);
      return;
    }
    if (drag.kind === "window") return moveWindow(lanes, x);
    if (drag.kind === "spent") return;
    // A finger that goes rather up or down is about to scroll the page.
    const scrolls = drag.kind === "carry" && event.pointerType === "touch" && Math.abs(y - drag.y) > Math.abs(x - drag.x);
    if (Math.abs(x - drag.x) > TREMBLE && !scrolls) drag.moved = true;
    if (!drag.moved) return;
    if (drag.kind === "carry") {
      hideTip(lanes);
      carry(x);
      return;
    }
    if (drag.kind === "pan") {
      const shift = ((drag.x - x) / lanes.plot) * (drag.view.to - drag.view.from);
      lanes.setView(drag.view.from + shift, drag.view.to + shift);
    } else {
      const other = Math.min(lanes.end, Math.max(0, lanes.seconds(x)));
      lanes.showChosen({ from: Math.min(drag.at, other), to: Math.max(drag.at, other) });
    }
    hideTip(lanes);
  });

  const finish = (event, cancelled) => {
    touches.delete(event.pointerId);
    if (!drag) return;
    const { x } = place(event);
    letGo(cancelled ? "back" : "drop");
    if (!cancelled && !["pinch", "window", "spent"].includes(drag.kind)) {
      if (!drag.moved) {
        lanes.wants.seek(lanes.seconds(drag.x));
        if (drag.lane === "events") {
          const reach = drag.crack ? CRACK_REACH : PICK_REACH;
          lanes.wants.pick(lanes.seconds(drag.x), (reach / lanes.plot) * (lanes.view.to - lanes.view.from));
          hideTip(lanes);
        }
      } else if (drag.kind === "choose") {
        const other = Math.min(lanes.end, Math.max(0, lanes.seconds(x)));
        lanes.wants.choose(Math.min(drag.at, other), Math.max(drag.at, other));
      }
    }
    if (drag.kind !== "pinch" || touches.size === 0) drag = null;
  };
  stack.addEventListener("pointerup", (event) => finish(event, false));
  stack.addEventListener("pointercancel", (event) => finish(event, true));
  stack.addEventListener("pointerleave", () => {
    stack.classList.remove("over-crack");
    hideTip(lanes);
  });

  stack.addEventListener("wheel", (event) => {
    const { x } = place(event);
    const around = lanes.seconds(Math.min(lanes.plot, Math.max(0, x)));
    if (event.ctrlKey || event.metaKey) {
      event.preventDefault();
      lanes.zoom(Math.exp(Math.max(-60, Math.min(60, event.deltaY)) * 0.01), around);
    } else if (event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      event.preventDefault();
      const span = lanes.view.to - lanes.view.from;
      const move = ((event.deltaX || event.deltaY) / lanes.plot) * span;
      lanes.setView(lanes.view.from + move, lanes.view.to + move);
    }
  }, { passive: false });
}

function moveWindow(lanes, x) {
  const span = lanes.view.to - lanes.view.from;
  const middle = (Math.min(lanes.plot, Math.max(0, x)) / lanes.plot) * lanes.end;
  lanes.setView(middle - span / 2, middle + span / 2);
}

function hideTip(lanes) {
  lanes.tip.hidden = true;
  lanes.hair.hidden = true;
  lanes.wants.mark(-1);
}

function showTip(lanes, lane, x, y, event) {
  if (!lane || lane === "overview" || x < 0 || x > lanes.plot) {
    if (lane !== "strips") hideTip(lanes);
    else lanes.tip.hidden = lanes.hair.hidden = true;
    return;
  }
  lanes.hair.hidden = false;
  lanes.hair.style.transform = `translateX(${x}px)`;
  const t = lanes.seconds(x);
  const shift = lanes.data.start_s || 0;
  const lines = [timeText(t + shift)];
  if (lane === "strips") lines.push(...stripWords(lanes, t, event));
  else lanes.wants.mark(-1);
  if (lane === "events") lines.push(...eventWords(lanes, x, t));
  if (lane === "bands") lines.push(...bandWords(lanes, t, event));
  if (lane === "wave") lines.push(`peak ${Math.round(100 * peakIn(lanes, t - lanes.offset, t - lanes.offset + 1e-6))} % of full scale`);
  if (lane === "flash") {
    const column = Math.floor(t / lanes.data.flash.seconds_each);
    lines.push(`${lanes.flash[column] || 0} in the second before`);
  }
  showWords(lanes, lines, x, y);
}

// Words beside the pointer, the first of them in front.
function showWords(lanes, lines, x, y) {
  lanes.tip.replaceChildren(...lines.map((text, k) => {
    const line = document.createElement(k ? "span" : "b");
    line.textContent = text;
    return line;
  }));
  lanes.tip.hidden = false;
  const room = lanes.plot + lanes.gutter;
  const wide = lanes.tip.offsetWidth;
  const left = x + lanes.gutter + 14 + wide > room ? x + lanes.gutter - 14 - wide : x + lanes.gutter + 14;
  lanes.tip.style.left = `${Math.max(4, left)}px`;
  lanes.tip.style.top = `${y + 14}px`;
}

function stripWords(lanes, t, event) {
  const box = lanes.scroller.getBoundingClientRect();
  const index = Math.floor((event.clientY - box.top + lanes.scroller.scrollTop) / lanes.rowHeight);
  const channel = lanes.data.rig.channels[index];
  if (!channel) return [];
  lanes.wants.mark(index);
  const light = `light ${(100 * lanes.timeline.light(index, t)).toFixed(1)} %`;
  const level = lanes.timeline.level(index, t);
  return [`${channel.number} ${plainText(channel.name, 40)}`, level === null ? light : `${light}, level ${(100 * level).toFixed(1)} %`];
}

function eventWords(lanes, x, t) {
  const near = crackNear(lanes, x, PICK_REACH);
  const numbers = (event) => `strength ${event.strength.toFixed(2)}, sharpness ${event.sharpness.toFixed(2)}, ${event.level_dbfs.toFixed(1)} dBFS`;
  const shift = (lanes.data.start_s || 0) + lanes.offset;
  if (near) return [`crack at ${timeText(near.start_s + shift)}`, numbers(near)];
  const rumble = lanes.rumbles.find((event) => event.start_s + lanes.offset <= t && t < event.end_s + lanes.offset);
  return rumble ? [`rumble ${timeText(rumble.start_s + shift)} to ${timeText(rumble.end_s + shift)}`, numbers(rumble)] : [];
}

function bandWords(lanes, t, event) {
  const { count, seconds_each: each, hz } = lanes.data.bands;
  const column = Math.floor((t - lanes.offset) / each);
  if (column < 0 || column >= count) return [];
  const box = lanes.lanes.bands.canvas.getBoundingClientRect();
  const band = Math.min(hz.length - 1, Math.max(0, Math.floor((1 - (event.clientY - box.top) / box.height) * hz.length)));
  return [`${hertzText(hz[band])}: ${(lanes.bands[column * hz.length + band] / 2 - 127.5).toFixed(1)} dBFS`];
}
