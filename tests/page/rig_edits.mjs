// What somebody does to the rig in the page, for any browser. `hand` is
//   run(script, ...args): the body of a function, run in the page   drag([x, y], [x, y]): a real mouse   press(key): a real key
// Each edit is [name, act, text]: `text` makes the same change to the text of a rig file as the library writes it, in the
// test's own way; edits of places, which only the picture knows, have none.

// Small words for scripts in the page.
const WORDS = `
  const fields = (id) => [...document.getElementById(id).querySelectorAll(".rig-field")];
  const field = (id, label) => fields(id).find((box) => box.querySelector("label").textContent === label).querySelector("input, select");
  const enter = (input, value) => { input.value = value; input.dispatchEvent(new Event("change")); };
  const set = (label, value) => enter(field("rig-fields", label), value);
  const setMore = (label, value) => enter(field("rig-more-fields", label), value);
  const choose = (number) => document.getElementById("rig-row-" + number).click();
  const circuit = (name) => [...document.querySelectorAll("#rig-circuits li")].find((row) => row.querySelector("input").value === name);
  const click = (id) => document.getElementById(id).click();
`;

// One section of a rig file, changed.
function inSection(text, heading, change) {
  const parts = text.split(/\n(?=\[)/);
  const at = parts.findIndex((part) => part.startsWith(`[${heading}]\n`));
  parts[at] = change(parts[at]);
  return parts.join('\n');
}
const inChannel = (text, number, change) => inSection(text, `channel ${number}`, change);

async function handle(hand, number, what) {
  return hand.run(`const box = document.querySelector('.handle[data-number="${number}"][data-what="${what}"]').getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];`);
}

export const openRig = (hand) => hand.run('document.getElementById("rig-bench").open = true;');

export function rigEdits(hand) {
  const act = (script) => () => hand.run(`${WORDS}${script}`);
  const arrange = (on) => hand.run(`${WORDS} if ((document.getElementById("rig-arrange").getAttribute("aria-pressed") === "true") !== ${on}) click("rig-arrange");
    window.scrollTo(0, 0); document.getElementById("theatre").scrollIntoView();`);
  return [
    ['a branch renamed', act('choose(2); set("Name", "trunk <b>&amp;\\u202E two");'),
      (text) => inChannel(text, 2, (part) => part.replace(/^name = .*$/m, 'name = trunk <b>&amp;\u202E two'))],
    ['a branch weighed', act('choose(3); set("Watts", "7,25");'),
      (text) => inChannel(text, 3, (part) => part.replace(/^watts = .*$/m, 'watts = 7.25'))],
    ['its levels and curve', act('set("Lights from", "14"); set("Brightest at", "93.5"); set("Curve", "square");'),
      (text) => inChannel(text, 3, (part) => `${part.replace(/^(curve|min_level|max_level) = .*\n/gm, '').trimEnd()}\ncurve = square\nmin_level = 14\nmax_level = 93.5\n`)],
    ['a flood added', act('click("rig-add-flood"); set("Name", "flood at the weir"); set("Watts", "30");'),
      (text) => `${text}\n[channel 17]\nname = flood at the weir\nkind = flood\nwatts = 30\ncircuit = ${text.match(/^circuit = (.*)$/m)[1]}\n`],
    ['a circuit added, named and weighed', act('click("rig-add-circuit"); const at = document.querySelector("#rig-circuits li:last-child").querySelectorAll("input"); enter(at[0], "gate"); enter(at[1], "10");'),
      (text) => `${text}\n[circuit gate]\nbreaker_amps = 10\n`],
    ['the flood put on it', act('choose(17); set("Circuit", "gate");'),
      (text) => inChannel(text, 17, (part) => part.replace(/^circuit = .*$/m, 'circuit = gate'))],
    ['the circuit renamed', act('enter(circuit("gate").querySelector("input"), "gate & weir");'),
      (text) => text.replaceAll('circuit = gate\n', 'circuit = gate & weir\n').replace('[circuit gate]', '[circuit gate & weir]')],
    ['a branch grows from another', act('choose(12); set("Grows from", "5");'),
      (text) => inChannel(text, 12, (part) => part.replace(/^parent = .*$/m, 'parent = 5'))],
    ['a branch on another output', act('choose(5); set("Channel", "40");'),
      (text) => text.replace('[channel 5]', '[channel 40]').replaceAll('parent = 5\n', 'parent = 40\n')],
    ['a slot', act('choose(40); set("Slot", "200");'),
      (text) => inChannel(text, 40, (part) => `${part.trimEnd()}\nslot = 200\n`)],
    ['a slow lamp that leads', act('choose(13); setMore("Lamp", "incandescent"); setMore("Rises in", "40"); setMore("Falls in", "90"); setMore("Lead", "25"); setMore("Group", "pond side");'),
      (text) => inChannel(text, 13, (part) => `${part.replace(/^(rise_ms|fall_ms|group) = .*\n/gm, '').trimEnd()}\nlamp = incandescent\nrise_ms = 40\nfall_ms = 90\nlead_ms = 25\ngroup = pond side\n`)],
    ['a branch removed', act('choose(7); click("rig-remove");'),
      (text) => {
        const parts = text.split(/\n(?=\[)/);
        const gone = parts.find((part) => part.startsWith('[channel 7]\n'));
        const [parent = ''] = gone.match(/^parent = .*\n/m) || [];
        return parts.filter((part) => part !== gone).join('\n').replace(/^parent = 7\n/gm, parent);
      }],
    ['a branch dragged', async () => {
      await hand.run(`${WORDS} choose(6);`);
      await arrange(true);
      const [x, y] = await handle(hand, 6, 'end');
      await hand.drag([x, y], [x - 40, y + 30]);
    }, null],
    ['a flood dragged', async () => {
      const [x, y] = await handle(hand, 13, 'end');
      await hand.drag([x, y], [x + 60, y - 20]);
    }, null],
    ['where a branch leaves its parent', async () => {
      await hand.run(`${WORDS} choose(6);`);
      await arrange(true);
      const [x, y] = await handle(hand, 6, 'fork');
      await hand.drag([x, y], [x + 10, y - 60]);
    }, null],
    ['moved by key', async () => {
      await hand.run('document.querySelector(".handle.chosen.end").focus();');
      for (const key of ['ArrowLeft', 'ArrowLeft', 'ArrowUp', 'PageDown', 'ArrowRight']) await hand.press(key);
      await arrange(false);
    }, null],
    ['a fork moved with all that grows from it', async () => {
      await hand.run(`${WORDS} choose(2);`);
      await arrange(true);
      await hand.run('document.querySelector(".handles-bar input").checked = true;');
      const [x, y] = await handle(hand, 2, 'end');
      await hand.drag([x, y], [x + 48, y]);
      await hand.run('document.querySelector(".handles-bar input").checked = false;');
      await arrange(false);
    }, null],
    ['a branch made a flood', act('choose(9); set("Kind", "flood");'), null],
    ['a branch added', act('choose(3); click("rig-add-branch"); set("Name", "new twig");'), null],
    ['laid out by its forks', act('click("rig-lay-out");'),
      (text) => text.replace(/^(x|y|start_x|start_y|fork) = .*\n/gm, '')],
  ];
}
