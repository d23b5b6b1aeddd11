// The circuits of the rig: name, breaker, and what is on them.

class RigCircuits {
  // `wants`: rename(from, to), set(circuit, key, value), each answering "" or what is wrong; remove(circuit).
  constructor(wants) {
    this.wants = wants;
    this.rows = [];
  }

  #build() {
    const row = { box: element("li"), words: element("p", "", "circuit-words"), bar: element("div", undefined, "bar"), name: "" };
    row.bar.setAttribute("aria-hidden", "true");
    row.title = new RigField({ label: "Name" }, (value) => this.wants.rename(row.name, value));
    row.amps = new RigField({ label: "Breaker", unit: "A", number: true }, (value) => this.wants.set(row.name, "breaker_amps", value));
    row.volts = new RigField({ label: "Volts", unit: "V", number: true }, (value) => this.wants.set(row.name, "volts", value || null));
    row.remove = Object.assign(element("button", "Remove"), { type: "button" });
    row.remove.addEventListener("click", () => this.wants.remove(row.name));
    const fields = element("div", undefined, "rig-fields");
    fields.append(row.title.box, row.amps.box, row.volts.box, row.remove);
    row.box.append(fields, row.bar, row.words);
    return row;
  }

  // `loads`: the circuits of the page's data, in the same order.
  show(rig, loads) {
    const names = rig.names("circuit");
    while (this.rows.length < names.length) {
      this.rows.push(this.#build());
      byId("rig-circuits").append(this.rows.at(-1).box);
    }
    for (const row of this.rows.splice(names.length)) row.box.remove();
    this.rows.forEach((row, i) => this.#showRow(row, rig, names[i], loads[i]));
  }

  #showRow(row, rig, name, load) {
    row.name = name;
    row.box.setAttribute("aria-label", `Circuit ${plainText(name)}`);
    row.title.show(name);
    row.amps.show(rig.value("circuit", name, "breaker_amps"));
    row.volts.show(rig.value("circuit", name, "volts") || "", { placeholder: String(load.volts) });
    const count = channelsOn(rig, name).length;
    row.remove.hidden = count > 0;
    row.remove.setAttribute("aria-label", `Remove circuit ${plainText(name)}`);
    const full = load.breaker_amps * load.volts;
    const above = load.all_on_w > load.advice_w;
    row.box.classList.toggle("above", above);
    row.bar.replaceChildren(...[["all-on", load.all_on_w], ["at80", load.advice_w]].map(([className, watts]) => {
      const part = element("i", undefined, className);
      part.style[className === "at80" ? "left" : "width"] = `${Math.min(100, (100 * watts) / Math.max(full, load.all_on_w))}%`;
      return part;
    }));
    const share = `${Number(((100 * load.all_on_w) / full).toPrecision(2))} % of the breaker`;
    row.words.textContent = above ? `All on it draws ${wattText(load.all_on_w)}, ${share}: above the line of 80 %. Put some of it on another circuit, and ask a licensed electrician.`
      : `${countText(count, "channel", "channels")}, all on ${wattText(load.all_on_w)}, ${share}`;
  }
}
