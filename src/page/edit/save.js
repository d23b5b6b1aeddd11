// Out of the page: the files that the program would write for the mended storm, one by one or all in one zip.

// The page as it was before any script changed it; its large parts (sound, core) are taken from where they lie.
const PAGE_AS_READ = document.documentElement.cloneNode(true);

// The whole page again, with the storm as it is now.
function pageText(app) {
  const { data } = app;
  const row = (event) => {
    const list = [event.kind === "rumble" ? 1 : 0, event.start_s, event.end_s, event.peak_s, event.strength, event.sharpness, event.level_dbfs];
    return event.strokes || event.path.length ? [...list, event.strokes, event.path] : list;
  };
  const text = JSON.stringify({ ...data, events: data.events.map(row) }).replaceAll("<", "\\u003c");
  const page = PAGE_AS_READ.cloneNode(true);
  page.querySelector("#sound-data").textContent = byId("sound-data").textContent;
  page.querySelector("#data").textContent = `\n${text}\n`;
  return `<!DOCTYPE html>\n${page.outerHTML}\n`;
}

function filesOf(app) {
  const { core } = app.bench.storm;
  const bytes = (text) => new TextEncoder().encode(text);
  const stem = app.data.title;
  const files = {
    events: [`${stem}.events.csv`, core.bytes("events")],
    frames: [`${stem}.frames.csv`, core.bytes("frames")],
    ramps: [`${stem}.ramps.csv`, core.bytes("ramps")],
    settings: [`${stem}.settings`, core.bytes("settings")],
    // The file that came in, byte for byte, until the rig is changed; the built-in one as the library writes it.
    rig: [`${stem}.rig`, app.data.rig.text ? bytes(app.data.rig.text) : core.bytes("rig")],
    page: [`${stem}.preview.html`, bytes(pageText(app))],
  };
  return files;
}

function download(name, blob) {
  const link = element("a");
  link.href = URL.createObjectURL(blob);
  link.download = name.replace(/[\p{Cc}\p{Cf}/\\:*?"<>|]/gu, "_");
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

function save(app, what) {
  const files = filesOf(app);
  if (what === "all") download(`${app.data.title}.zip`, zipOf(Object.values(files)));
  else download(files[what][0], new Blob([files[what][1]], { type: "application/octet-stream" }));
  say(what === "all" ? "Saved everything in one zip file" : `Saved ${files[what][0]}`);
}
