// What somebody does to a rig: functions from a RigFile to another one. Channels go by their numbers.

const CHANNELS_MOST = 512;
const NO_PLACE = { x: null, y: null, start_x: null, start_y: null, fork: null };
// Nameplates to begin with, as `thundercue rig --new` has them.
const NEW_WATTS = { branch: 5, flood: 15 };

const channelValue = (rig, number, key) => rig.value("channel", number, key);
const kindOf = (rig, number) => channelValue(rig, number, "kind");
const parentOf = (rig, number) => Number(channelValue(rig, number, "parent") || 0);
const branchesOf = (rig) => rig.numbers.filter((number) => kindOf(rig, number) === "branch");
// True where somebody has said where things hang.
const isPlaced = (rig) => rig.numbers.some((number) => channelValue(rig, number, "x") !== undefined);

// A branch and all that grow from it.
function familyOf(rig, number) {
  const family = new Set([number]);
  for (const member of family) for (const child of rig.forks(member)) family.add(child);
  return family;
}

// The branches that a channel may grow from: any but itself and those that grow from it.
function parentsFor(rig, number) {
  const family = familyOf(rig, number);
  return branchesOf(rig).filter((other) => !family.has(other));
}

// ---- where things hang ----

const placeOf = (rig, number) => ({ x: Number(channelValue(rig, number, "x") ?? 50), y: Number(channelValue(rig, number, "y") ?? 50) });
const within = (percent) => Math.round(10 * Math.min(100, Math.max(0, percent))) / 10;

// Every place of `places`: {number: {x, y, start_x, ...}}.
const withPlaces = (rig, places) => Object.entries(places).reduce((now, [number, place]) => now.with("channel", number, place), rig);
const withoutPlaces = (rig) => rig.numbers.reduce((now, number) => now.with("channel", number, NO_PLACE), rig);

// Where a new branch hangs: below the one that it grows from, to the side where there is less.
function placeBelow(rig, parent) {
  if (!parent) return { x: 50, y: 60, start_x: 50, start_y: 100 };
  const { x, y } = placeOf(rig, parent);
  const others = rig.forks(parent);
  const left = others.filter((child) => placeOf(rig, child).x < x).length;
  return { x: within(x + (2 * left >= others.length ? 9 : -9)), y: within(y - 16), fork: 100 };
}

// Where a new flood stands: in the middle of the widest gap on the ground.
function placeBetween(rig) {
  const at = rig.numbers.filter((number) => kindOf(rig, number) === "flood").map((number) => placeOf(rig, number).x).sort((a, b) => a - b);
  const ends = [0, ...at, 100];
  let widest = 0;
  for (let i = 1; i + 1 < ends.length; i++) if (ends[i + 1] - ends[i] > ends[widest + 1] - ends[widest]) widest = i;
  return { x: within((ends[widest] + ends[widest + 1]) / 2), y: 0 };
}

// ---- channels ----

// The number of the channel that addChannel would add; 0 if all are taken.
function freeNumber(rig) {
  const taken = new Set(rig.numbers);
  for (let number = 1; number <= CHANNELS_MOST; number++) if (!taken.has(number)) return number;
  return 0;
}

// A flood, or a branch that grows from `parent` (0: a root); on the circuit of the channel beside it.
function addChannel(rig, kind, parent, beside) {
  const number = freeNumber(rig);
  const circuit = (beside && channelValue(rig, beside, "circuit")) || rig.names("circuit")[0];
  const place = !isPlaced(rig) ? {} : kind === "flood" ? placeBetween(rig) : placeBelow(rig, parent);
  return rig.withSection("channel", number, { name: `${kind} ${number}`, kind, parent: parent || null, watts: NEW_WATTS[kind], circuit, ...place });
}

// What grew from a channel grows from that one's parent then, and begins at its end; roots begin at the top.
function freeChildren(rig, number) {
  const parent = kindOf(rig, number) === "branch" ? parentOf(rig, number) : 0;
  return rig.forks(number).reduce((now, child) => withParent(now, child, parent), rig);
}

const removeChannel = (rig, number) => freeChildren(rig, number).withoutSection("channel", number);

function withParent(rig, number, parent) {
  const place = !isPlaced(rig) ? {} : parent ? { start_x: null, start_y: null, fork: 100 } : { fork: null, start_x: placeOf(rig, number).x, start_y: 100 };
  return rig.with("channel", number, { parent: parent || null, ...place });
}

function withKind(rig, number, kind) {
  const place = !isPlaced(rig) ? {} : kind === "flood" ? { y: 0, start_x: null, start_y: null, fork: null } : { start_x: placeOf(rig, number).x, start_y: 100 };
  return freeChildren(rig, number).with("channel", number, { kind, parent: null, ...place });
}

// Another output of the dimmer for a channel. What grows from it still does.
function withNumber(rig, from, to) {
  const children = rig.forks(from);
  return children.reduce((now, child) => now.with("channel", child, { parent: to }), rig.renamed("channel", from, to));
}

// ---- circuits ----

const channelsOn = (rig, circuit) => rig.numbers.filter((number) => channelValue(rig, number, "circuit") === circuit);

function addCircuit(rig) {
  const names = rig.names("circuit");
  let k = names.length + 1;
  while (names.includes(`circuit ${k}`)) k++;
  return rig.withSection("circuit", `circuit ${k}`, { breaker_amps: names.length ? rig.value("circuit", names.at(-1), "breaker_amps") : 15 });
}

const withCircuitName = (rig, from, to) =>
  channelsOn(rig, from).reduce((now, number) => now.with("channel", number, { circuit: to }), rig.renamed("circuit", from, to));

// ---- what was done by hand to cracks ----

// The hand with the numbers of all paths changed; null takes a channel out of them.
function handWithPaths(hand, change) {
  const mend = (event) => ({ ...event, path: event.path.map(change).filter((number) => number !== null) });
  return { ...hand, added: hand.added.map(mend), changed: Object.fromEntries(Object.entries(hand.changed).map(([key, event]) => [key, mend(event)])) };
}
