// Out of the page: the files that the program would write for the mended storm, one by one, all in one zip, or into a
// folder.

// The page as it was before any script changed it; its large parts (sound, core) are taken from where they lie.
const PAGE_AS_READ = document.documentElement.cloneNode(true);

// As the program breaks it into lines.
function base64Of(bytes) {
  const lines = [];
  for (let i = 0; i < bytes.length; i += 3072) lines.push(`${btoa(String.fromCharCode(...bytes.subarray(i, i + 3072)))}\n`);
  return lines.join("");
}

// The whole page again, with the storm as it is now: `text` is its data, from the library.
function pageText(text, sound) {
  const page = PAGE_AS_READ.cloneNode(true);
  page.querySelector("#sound-data").textContent = `\n${sound}`;
  page.querySelector("#data").textContent = `\n${text}\n`;
  return `<!DOCTYPE html>\n${page.outerHTML}\n`;
}

// {what: [name, bytes]} of a storm; `sound` is the recording as the page carries it.
function filesOf(storm, data, sound) {
  const { core } = storm;
  storm.cue(CUE_FILES | CUE_WHOLE);
  const bytes = (text) => new TextEncoder().encode(text);
  const stem = data.title;
  const files = {
    events: [`${stem}.events.csv`, core.bytes("events")],
    frames: [`${stem}.frames.csv`, core.bytes("frames")],
    ramps: [`${stem}.ramps.csv`, core.bytes("ramps")],
    settings: [`${stem}.settings`, core.bytes("settings")],
    // The file that came in, with what was changed in it; the built-in rig as the library writes it.
    rig: [`${stem}.rig`, data.rig.text ? bytes(data.rig.text) : core.bytes("rig")],
    // The whole page is long: it is made when it is asked for.
    get page() {
      return [`${stem}.preview.html`, bytes(pageText(core.text("data"), sound))];
    },
  };
  return files;
}

// The sound of the open storm.
async function soundOf({ data, file }) {
  if (data.sound.kind !== "embedded") return "";
  return file ? base64Of(new Uint8Array(await file.arrayBuffer())) : byId("sound-data").textContent.replace(/^\n/, "");
}

async function filesOfApp(app) {
  app.bench.settle();
  return filesOf(app.bench.storm, app.data, await soundOf(app));
}

// Names that every system takes as names of files.
const fileName = (name) => name.replace(/[\p{Cc}\p{Cf}/\\:*?"<>|]/gu, "_");

function download(name, blob) {
  const link = element("a");
  link.href = URL.createObjectURL(blob);
  link.download = fileName(name);
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

// Files out of the page: how is "zip" or "folder". True when they are saved.
async function saveOut(files, how, zipName) {
  if (how === "folder") return saveToFolder(files);
  download(zipName, zipOf(files.map(([name, bytes]) => [fileName(name), bytes])));
  say(`Saved everything in ${zipName}`);
  return true;
}

// What is a kind of file, "all" for all in one zip, or "folder" for all into a folder.
async function save(app, what) {
  const files = await filesOfApp(app);
  if (what === "all" || what === "folder") {
    if (!(await saveOut(Object.values(files), what === "all" ? "zip" : "folder", `${app.data.title}.zip`))) return;
  } else {
    const [name, bytes] = files[what];
    download(name, new Blob([bytes], { type: "application/octet-stream" }));
    say(`Saved ${name}`);
  }
  if (["all", "folder", "page"].includes(what)) app.bench.noteSaved();
}
