// The channels of the rig as a list to choose from. Names go in as text.

class RigList {
  // `wants`: choose(number), remove().
  constructor(wants) {
    this.wants = wants;
    this.box = byId("rig-list");
    this.numbers = [];
    this.box.addEventListener("click", (event) => {
      const row = event.target.closest("li");
      if (row) wants.choose(Number(row.dataset.number));
    });
    this.box.addEventListener("keydown", (event) => this.#key(event));
  }

  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const at = this.numbers.indexOf(this.chosen);
    const to = { ArrowUp: at - 1, ArrowDown: at + 1, PageUp: at - 8, PageDown: at + 8, Home: 0, End: this.numbers.length - 1 }[event.key];
    if (to === undefined && event.key !== "Delete") return;
    event.preventDefault();
    event.stopPropagation();
    if (event.key === "Delete") this.wants.remove();
    else this.wants.choose(this.numbers[Math.max(0, Math.min(this.numbers.length - 1, to))]);
  }

  #row(rig, number) {
    const row = element("li");
    row.id = `rig-row-${number}`;
    row.dataset.number = number;
    row.setAttribute("role", "option");
    const kind = kindOf(rig, number);
    row.className = kind;
    row.setAttribute("aria-selected", String(number === this.chosen));
    const from = parentOf(rig, number);
    row.append(element("b", number), named(channelValue(rig, number, "name") || ""),
      element("span", kind === "flood" ? "flood" : from ? `from ${from}` : "root"), element("span", `${channelValue(rig, number, "watts")} W`));
    return row;
  }

  show(rig, chosen) {
    this.numbers = rig.numbers;
    this.chosen = chosen;
    this.box.replaceChildren(...this.numbers.map((number) => this.#row(rig, number)));
    this.box.setAttribute("aria-activedescendant", `rig-row-${chosen}`);
    const row = this.box.querySelector('[aria-selected="true"]');
    if (!row) return;
    // Within the list alone: the page itself stays where it is.
    const { offsetTop: top, offsetHeight: tall } = row;
    this.box.scrollTop = Math.max(top + tall - this.box.clientHeight, Math.min(top, this.box.scrollTop));
  }
}
