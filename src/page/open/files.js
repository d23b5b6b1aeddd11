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

// All files below a folder that was dropped, by name; hidden ones stay out.
async function filesBelow(entry) {
  if (entry.isFile) return [await new Promise((done, fail) => entry.file(done, fail))];
  const reader = entry.createReader();
  const found = [];
  for (let some; (some = await new Promise((done, fail) => reader.readEntries(done, fail))).length; ) found.push(...some);
  found.sort((a, b) => (a.name < b.name ? -1 : 1));
  const files = [];
  for (const one of found) if (!one.name.startsWith(".")) files.push(...(await filesBelow(one)));
  return files;
}

const SOUND_ENDINGS = /\.(wav|wave|flac|ogg|oga|opus|mp3|m4a|aac|webm|aif|aiff|rig|ini|settings|csv)$/i;

// What a drop holds. Of a folder only what looks like a recording or a file of ours.
async function droppedFiles(transfer) {
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry());
  if (!entries.some((entry) => entry && entry.isDirectory)) return [...transfer.files];
  const files = [];
  for (const entry of entries.filter(Boolean)) {
    const found = await filesBelow(entry);
    files.push(...(entry.isDirectory ? found.filter((file) => SOUND_ENDINGS.test(file.name) && !/\.(frames|ramps)\.csv$/i.test(file.name)) : found));
  }
  return files;
}
