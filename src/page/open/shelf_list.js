// How the shelf shows itself: a line for each recording, what came along with them, and what went wrong.

const STATE_WORDS = {
  waiting: () => "waiting",
  reading: () => "reading the file",
  listening: ({ share }) => `listening, ${Math.round(100 * share)} %`,
  ready: ({ storm, byEvents }) => (storm && storm.unsaved ? "changed" : storm && storm.touched ? "changed, saved" : byEvents ? "as its events file has it" : "as heard"),
  failed: ({ reason }) => reason,
};

class ShelfList {
  constructor(shelf) {
    this.shelf = shelf;
    this.rows = new Map();
  }

  #rowOf(entry) {
    if (this.rows.has(entry)) return this.rows.get(entry);
    const line = element("li", undefined, "shelf-row");
    const open = element("button", undefined, "shelf-name");
    const progress = element("progress");
    const remove = element("button", undefined, "shelf-remove");
    open.type = remove.type = "button";
    const name = named("");
    open.append(name);
    open.title = plainText(entry.file.name, 300);
    progress.max = 1;
    progress.setAttribute("aria-label", `Listening to ${plainText(entry.file.name)}`);
    const row = { line, open, name, length: element("span", "", "shelf-length"), cracks: element("span", "", "shelf-cracks"),
      state: element("span", "", "shelf-state plain"), progress, remove };
    line.append(open, row.length, row.cracks, row.state, progress, remove);
    open.addEventListener("click", () => this.shelf.choose(entry));
    remove.addEventListener("click", () => this.#remove(entry, remove));
    this.rows.set(entry, row);
    return row;
  }

  // What was changed and not saved goes at the second click.
  #remove(entry, button) {
    if (entry.storm && entry.storm.unsaved && !button.dataset.sure) {
      button.dataset.sure = "yes";
      button.textContent = "Remove unsaved";
      say("It has changes that are not saved. Press again to remove it");
      button.addEventListener("blur", () => {
        delete button.dataset.sure;
        this.show(entry);
      }, { once: true });
      return;
    }
    this.shelf.remove(entry);
  }

  #fill(entry) {
    const row = this.#rowOf(entry);
    const { data, state } = entry;
    const busy = state === "reading" || state === "listening";
    row.line.dataset.state = state;
    row.name.textContent = shownText(entry.title === stemOf(entry.file.name) ? entry.file.name : entry.title);
    row.open.disabled = state !== "ready";
    if (entry === this.shelf.open) row.open.setAttribute("aria-current", "true");
    else row.open.removeAttribute("aria-current");
    row.length.textContent = data ? lengthText(data.length_s) : "";
    row.cracks.textContent = data ? countText(data.summary.cracks, "crack", "cracks") : "";
    row.state.textContent = STATE_WORDS[state](entry);
    row.progress.hidden = !busy;
    if (state === "listening") row.progress.value = entry.share;
    else row.progress.removeAttribute("value");
    if (!row.remove.dataset.sure) row.remove.textContent = busy || state === "waiting" ? "Cancel" : "Remove";
    row.remove.setAttribute("aria-label", `${row.remove.textContent} ${plainText(entry.file.name)}`);
  }

  // All of it, or one line.
  show(entry) {
    const { entries } = this.shelf;
    for (const one of entry ? [entry] : entries) if (entries.includes(one)) this.#fill(one);
    if (entry) return;
    for (const [one, { line }] of this.rows) {
      if (entries.includes(one)) continue;
      line.remove();
      this.rows.delete(one);
    }
    entries.forEach((one, k) => {
      const { line } = this.rows.get(one);
      if (byId("shelf-list").children[k] !== line) byId("shelf-list").insertBefore(line, byId("shelf-list").children[k] || null);
    });
    const ready = entries.filter(({ state }) => state === "ready").length;
    const failed = entries.filter(({ state }) => state === "failed").length;
    byId("shelf-head").textContent = [failed < entries.length && countText(entries.length - failed, "recording", "recordings"),
      failed && countText(failed, "file that can't be read", "files that can't be read")].filter(Boolean).join(", ");
    byId("shelf-tools").hidden = document.body.classList.contains("no-storm");
    byId("shelf-save").hidden = ready < 2;
    byId("shelf-folder").hidden = ready < 2 || !canPickFolder();
    byId("shelf").classList.toggle("empty", !entries.length);
  }

  focus(entry) {
    if (entry) this.#rowOf(entry).open.focus();
    else byId("open-files").focus();
  }

  // What came along: the rig, the settings, events.
  note(kind, name) {
    const line = element("li", { rig: "Rig: ", settings: "Settings: ", events: "Events: " }[kind]);
    line.append(named(name));
    line.dataset.kind = kind;
    for (const old of byId("open-list").querySelectorAll(`[data-kind="${kind}"]`)) if (kind !== "events") old.remove();
    byId("open-list").append(line);
  }

  // One more line of what went wrong; "" begins anew.
  problem(words) {
    const box = byId("open-problem");
    box.hidden = !words;
    if (words) box.append(element("span", words, "plain problem"));
    else box.replaceChildren();
  }
}
