// The files that somebody drops onto the page or chooses: what each is, and what its storm is called.

const kindOfFile = (name) => (/\.(rig|ini)$/i.test(name) ? "rig" : /\.settings$/i.test(name) ? "settings" : /\.csv$/i.test(name) ? "events" : "recording");

const stemOf = (name) => name.replace(/(.)\.[^.]*$/, "$1");

// An events file belongs to the recording whose name it begins with.
const eventsStemOf = (name) => stemOf(name).replace(/\.(events|labels)$/i, "");

// Recordings of one stem go by their whole names, as those of a folder do; those of one whole name get a number.
function tellApart(names) {
  const same = (name) => name.toLowerCase();
  const titles = names.map(stemOf);
  for (let again = true; again; ) {
    again = false;
    const count = new Map();
    for (const title of titles) count.set(same(title), (count.get(same(title)) || 0) + 1);
    titles.forEach((title, i) => {
      if (count.get(same(title)) < 2 || title === names[i]) return;
      titles[i] = names[i];
      again = true;
    });
  }
  const taken = new Set();
  return titles.map((title) => {
    let own = title;
    for (let k = 2; taken.has(same(own)); k++) own = `${title} (${k})`;
    taken.add(same(own));
    return own;
  });
}

const OURS = /\.(wav|wave|flac|ogg|oga|opus|mp3|m4a|aac|webm|aif|aiff|aifc|rig|ini|settings|csv)$/i;
const OUTPUTS = /\.(frames|ramps|night)\.csv$|(^|\/)summary\.csv$/i;

// Of a folder only what looks like a recording or a file that goes with one; hidden ones stay out.
const fitsInFolder = (name) => OURS.test(name) && !OUTPUTS.test(name) && !name.startsWith(".");

const byName = (a, b) => (a.name < b.name ? -1 : 1);

// All files below a folder, by name. Browsers have two ways to tell of a folder that was dropped: handles, which work in a
// page opened from disk in all that have them, and entries.
async function filesBelow(thing) {
  if (thing.kind === "file") return [await thing.getFile()];
  if (thing.isFile) return [await new Promise((done, fail) => thing.file(done, fail))];
  const found = [];
  if (thing.kind === "directory") for await (const one of thing.values()) found.push(one);
  else {
    const reader = thing.createReader();
    for (let some; (some = await new Promise((done, fail) => reader.readEntries(done, fail))).length; ) found.push(...some);
  }
  const files = [];
  for (const one of found.sort(byName)) {
    const isFile = one.kind === "file" || one.isFile;
    if (isFile ? fitsInFolder(one.name) : !one.name.startsWith(".")) files.push(...(await filesBelow(one)));
  }
  return files;
}

// What a drop holds; asked for before the drop is over.
async function droppedFiles(transfer) {
  const items = [...transfer.items];
  const plain = [...transfer.files];
  const entries = items.map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry());
  if (!entries.some((entry) => entry && entry.isDirectory)) return plain;
  const handles = items.map((item) => item.getAsFileSystemHandle && item.getAsFileSystemHandle());
  const files = [];
  for (let i = 0; i < items.length; i++) {
    const thing = (await handles[i]) || entries[i];
    if (thing) files.push(...(await filesBelow(thing)));
  }
  return files;
}
