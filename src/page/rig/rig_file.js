// A rig file in the form in which the library writes it, taken apart. It is never changed: every change makes another one,
// and the library judges what comes of it.

class RigFile {
  // `sections`: [{word, name, keys: [[key, value], ...]}] in the order of the file, values as text.
  constructor(sections) {
    this.sections = sections;
  }

  static of(text) {
    const sections = [];
    for (const line of text.split("\n")) {
      if (line.startsWith("[")) {
        const [, word, name] = line.match(/^\[(\w+) ?([^]*)\]$/);
        sections.push({ word, name, keys: [] });
      } else if (line) {
        const at = line.indexOf(" = ");
        sections.at(-1).keys.push([line.slice(0, at), line.slice(at + 3)]);
      }
    }
    return new RigFile(sections);
  }

  get text() {
    return this.sections.map(({ word, name, keys }) =>
      `[${word}${name ? ` ${name}` : ""}]\n${keys.map(([key, value]) => `${key} = ${value}\n`).join("")}`).join("\n");
  }

  #find(word, name) {
    this.index ??= new Map(this.sections.map((section, i) => [`${section.word} ${section.name}`, i]));
    return this.index.get(`${word} ${name}`) ?? -1;
  }

  has(word, name = "") {
    return this.#find(word, name) >= 0;
  }

  // The value of a key as text; undefined where the section doesn't say it.
  value(word, name, key) {
    const section = this.sections[this.#find(word, name)];
    return section && (section.keys.find(([other]) => other === key) || [])[1];
  }

  names(word) {
    return this.sections.filter((section) => section.word === word).map(({ name }) => name);
  }

  get numbers() {
    return this.names("channel").map(Number);
  }

  // What grows from a branch: numbers of channels.
  forks(number) {
    if (!this.children) {
      this.children = new Map();
      for (const other of this.numbers) {
        const parent = Number(this.value("channel", other, "parent") || 0);
        this.children.set(parent, [...(this.children.get(parent) || []), other]);
      }
    }
    return this.children.get(number) || [];
  }

  // {key: value} goes into a section; null takes a key out.
  with(word, name, values) {
    const at = this.#find(word, name);
    const keys = this.sections[at].keys.filter(([key]) => values[key] === undefined);
    for (const [key, value] of Object.entries(values)) if (value !== null && value !== undefined) keys.push([key, String(value)]);
    return this.#replace(at, { ...this.sections[at], keys });
  }

  // A new section; it goes after the last one of its kind, or to the end.
  withSection(word, name, values) {
    const last = this.sections.findLastIndex((section) => section.word === word);
    const at = last < 0 ? this.sections.length : last + 1;
    const keys = Object.entries(values).filter(([, value]) => value !== null).map(([key, value]) => [key, String(value)]);
    return new RigFile([...this.sections.slice(0, at), { word, name: String(name), keys }, ...this.sections.slice(at)]);
  }

  withoutSection(word, name) {
    const at = this.#find(word, name);
    return new RigFile(this.sections.filter((section, i) => i !== at));
  }

  renamed(word, from, to) {
    const at = this.#find(word, from);
    return this.#replace(at, { ...this.sections[at], name: String(to) });
  }

  #replace(at, section) {
    return new RigFile(this.sections.map((other, i) => (i === at ? section : other)));
  }
}
