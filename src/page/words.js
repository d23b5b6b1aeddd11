// Words and elements: how numbers, times and names are written on the page.
//
// All text from outside (names of files, rigs, channels, settings) goes in as text and never as markup.

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

function timeText(seconds, places = 3) {
  const sign = seconds < 0 ? "-" : "";
  const whole = Math.round(Math.abs(seconds) * 10 ** places) / 10 ** places;
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  const rest = (whole % 60).toFixed(places).padStart(places ? places + 3 : 2, "0");
  return hours ? `${sign}${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${sign}${minutes}:${rest}`;
}

function hertzText(hz) {
  return hz >= 995 ? `${(hz / 1000).toFixed(hz >= 9950 ? 0 : 1).replace(/\.0$/, "")} kHz` : `${Math.round(hz)} Hz`;
}

function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes;
}

// A name from outside, as its own stretch of text.
const named = (text) => element("bdi", shownText(text), "name");

// Announces what has changed, for those who listen to the page.
function say(words) {
  byId("say").textContent = words;
}
