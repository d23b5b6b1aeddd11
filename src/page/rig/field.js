// A field of the rig: a name, an input, its unit, and below it what is wrong with it. What is typed is text until the
// library has read it; a comma counts as a point in numbers.

let fieldsMade = 0;

class RigField {
  // `take(value)` is told what was entered and answers "" or what is wrong with it.
  constructor({ label, unit = "", number = false, options = false, help = "" }, take) {
    this.number = number;
    this.given = "";
    this.box = element("div", undefined, "rig-field");
    const id = `rig-field-${++fieldsMade}`;
    const name = Object.assign(element("label", label, "setting-name"), { htmlFor: id });
    this.input = element(options ? "select" : "input");
    Object.assign(this.input, { id, title: help || label });
    if (!options) Object.assign(this.input, { type: "text", autocomplete: "off", spellcheck: false, inputMode: number ? "decimal" : "text" });
    this.problem = Object.assign(element("p", "", "field-problem"), { id: `${id}-problem`, hidden: true });
    this.problem.setAttribute("role", "alert");
    this.input.setAttribute("aria-describedby", this.problem.id);
    this.box.append(name, this.input, element("span", unit, "rig-unit"), this.problem);
    // What was taken is shown anew by its owner.
    this.input.addEventListener("change", () => {
      const problem = take(this.value);
      if (problem) this.tell(problem);
    });
    this.input.addEventListener("keydown", (event) => {
      // The keys of the page are letters of names here; undo is the field's own while it holds something new.
      const undoes = (event.ctrlKey || event.metaKey) && /^[zy]$/i.test(event.key);
      if (!undoes || this.input.value !== this.given) event.stopPropagation();
    });
  }

  get value() {
    const text = this.input.value.trim();
    return this.number ? text.replace(",", ".") : text;
  }

  tell(problem) {
    this.problem.textContent = problem;
    this.problem.hidden = !problem;
    if (problem) this.input.setAttribute("aria-invalid", "true");
    else this.input.removeAttribute("aria-invalid");
  }

  // Shows a value of the rig; `options` are [value, words].
  show(value, { hidden = false, placeholder = "", options = null } = {}) {
    this.box.hidden = hidden;
    if (options) this.input.replaceChildren(...options.map(([key, words]) => Object.assign(element("option", plainText(words)), { value: key })));
    else this.input.placeholder = placeholder;
    this.given = value;
    this.input.value = value;
    this.tell("");
  }
}
