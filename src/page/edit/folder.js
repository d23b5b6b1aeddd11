// Saving into a folder of the user's own choice, where the browser has a way to ask for one. What is there already is
// replaced only when the user says so.

const canPickFolder = () => typeof window.showDirectoryPicker === "function";

// Asks in the page; true for yes.
function ask(words, names, yes) {
  const dialog = byId("ask");
  byId("ask-words").textContent = words;
  byId("ask-names").replaceChildren(...names.slice(0, 12).map((name) => element("li", shownText(name), "plain")),
    ...(names.length > 12 ? [element("li", `and ${names.length - 12} more`)] : []));
  byId("ask-yes").textContent = yes;
  return new Promise((done) => {
    byId("ask-yes").onclick = () => dialog.close("yes");
    byId("ask-no").onclick = () => dialog.close("");
    dialog.returnValue = "";
    dialog.addEventListener("close", () => done(dialog.returnValue === "yes"), { once: true });
    dialog.showModal();
  });
}

async function isThere(folder, name) {
  try {
    await folder.getFileHandle(name);
    return true;
  } catch (problem) {
    if (problem.name === "NotFoundError") return false;
    throw problem;
  }
}

async function saveToFolder(files) {
  byId("save-problem").hidden = true;
  let folder;
  try {
    folder = await window.showDirectoryPicker({ id: "thundercue", mode: "readwrite" });
  } catch (problem) {
    if (problem.name === "AbortError") return false; // no folder was chosen
    return tellFolderProblem("", problem);
  }
  const named_ = files.map(([name, bytes]) => [fileName(name), bytes]);
  let name = "";
  try {
    const there = [];
    for ([name] of named_) if (await isThere(folder, name)) there.push(name);
    if (there.length && !(await ask(`The folder ${plainText(folder.name)} has ${countText(there.length, "file of this name", "files of these names")} already:`, there,
      there.length === 1 ? "Replace it" : "Replace them"))) return false;
    let bytes;
    for ([name, bytes] of named_) {
      // Written beside and put in place at the end, by the browser.
      const out = await (await folder.getFileHandle(name, { create: true })).createWritable();
      await out.write(bytes);
      await out.close();
    }
  } catch (problem) {
    return tellFolderProblem(name, problem);
  }
  say(`Saved ${countText(files.length, "file", "files")} in ${plainText(folder.name)}`);
  return true;
}

function tellFolderProblem(name, problem) {
  const words = `${name ? `${plainText(name)} can't be saved in this folder` : "The folder can't be opened"}: ${problem.message}`;
  const line = byId(byId("bench").hidden ? "open-problem" : "save-problem");
  line.textContent = words;
  line.hidden = false;
  say(words);
  return false;
}
