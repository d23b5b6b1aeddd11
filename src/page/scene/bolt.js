// The shape of the bolt: one tortuous line per branch channel, grown from the rig's own forks.
//
// The rig says only who grows from whom; where the strings hang is for the rigger to know. So the drawing is a plan, not
// a map: the longest chain of branches comes down from the cloud, the others leave their parents to the left and right.
// The same rig always gives the same drawing. Coordinates: y from 0 (cloud) to 1 (ground), x to the same scale.

// A small generator of random numbers (xorshift, 32 bits), so that the drawing doesn't change from one look to the next.
function randomFrom(seed) {
  let state = seed >>> 0 || 1;
  return () => {
    state ^= state << 13;
    state >>>= 0;
    state ^= state >>> 17;
    state ^= state << 5;
    state >>>= 0;
    return state / 4294967296;
  };
}

// FNV-1a, 32 bits.
function hashOf(text) {
  let hash = 2166136261;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 16777619);
  return hash >>> 0;
}

// A line from a to b that wanders as lightning does: every stretch is broken in the middle and the middle is pushed
// aside, by a share of its length.
function wanderingLine(a, b, random, rounds) {
  let points = [a, b];
  let share = 0.2;
  for (let round = 0; round < rounds; round++, share *= 0.93) {
    const finer = [points[0]];
    for (let i = 1; i < points.length; i++) {
      const [x0, y0] = points[i - 1];
      const [x1, y1] = points[i];
      const push = (random() + random() - 1) * share;
      const along = 0.42 + 0.16 * random();
      finer.push([x0 + (x1 - x0) * along - (y1 - y0) * push, y0 + (y1 - y0) * along + (x1 - x0) * push], points[i]);
    }
    points = finer;
  }
  return points;
}

function pointAlong(points, share) {
  const at = Math.min(points.length - 1, Math.max(0, share * (points.length - 1)));
  const i = Math.min(points.length - 2, Math.floor(at));
  const f = at - i;
  return [points[i][0] + (points[i + 1][0] - points[i][0]) * f, points[i][1] + (points[i + 1][1] - points[i][1]) * f];
}

// One entry per channel: {points, depth, parent, share} for a branch, null for a flood. Depth 0 is a line of the main
// chain; each fork to the side adds one. It begins `share` along its parent (an index; -1 for a root).
function growBolt(channels) {
  const indexOf = new Map(channels.map((channel, i) => [channel.number, i]));
  const children = channels.map(() => []);
  const roots = [];
  channels.forEach((channel, i) => {
    if (channel.kind !== "branch") return;
    const parent = channel.parent ? indexOf.get(channel.parent) : undefined;
    if (parent === undefined) roots.push(i);
    else children[parent].push(i);
  });

  const reach = new Array(channels.length).fill(1); // branches in the longest chain below and including this one
  const below = new Array(channels.length).fill(1); // branches in all below and including this one
  const order = [];
  for (const stack = [...roots]; stack.length; ) {
    const i = stack.pop();
    order.push(i);
    stack.push(...children[i]);
  }
  for (let k = order.length - 1; k >= 0; k--) {
    const i = order[k];
    for (const child of children[i]) {
      reach[i] = Math.max(reach[i], reach[child] + 1);
      below[i] += below[child];
    }
  }
  const byWeight = (a, b) => reach[b] - reach[a] || below[b] - below[a] || a - b;

  const lines = channels.map(() => null);
  const seed = hashOf(channels.map((channel) => `${channel.number}:${channel.kind}:${channel.parent}`).join());
  const grow = [];
  roots.sort(byWeight);
  roots.forEach((root, k) => {
    const side = k % 2 ? 1 : -1;
    const x = roots.length === 1 ? 0 : (side * Math.ceil(k / 2) * 1.3) / Math.max(2, roots.length);
    grow.push({ i: root, parent: -1, share: 0, start: [x, 0], angle: roots.length === 1 ? -0.06 : -0.12 * x, length: k ? 0.82 : 1, depth: k ? 1 : 0 });
  });
  while (grow.length) {
    const { i, parent, share, start, angle, length, depth } = grow.pop();
    const random = randomFrom(seed ^ Math.imul(channels[i].number, 2654435761));
    for (let warm = 0; warm < 4; warm++) random();
    // The chain that hangs here has `length` to share among its branches; the upper ones take a little more.
    const mine = (length / reach[i]) * (reach[i] > 1 ? 1.06 : 1);
    const end = [start[0] + Math.sin(angle) * mine, start[1] + Math.cos(angle) * mine];
    const points = wanderingLine(start, end, random, mine > 0.25 ? 6 : 5);
    lines[i] = { points, depth, parent, share };

    const [main, ...others] = children[i].slice().sort(byWeight);
    if (main === undefined) continue;
    const sway = (random() - 0.5) * 0.34;
    grow.push({ i: main, parent: i, share: 1, start: end, angle: angle * 0.72 + sway, length: length - mine, depth });
    let side = random() < 0.5 ? 1 : -1;
    if (Math.abs(angle) > 0.3) side = angle > 0 ? -1 : 1;
    others.forEach((child, k) => {
      const along = others.length === 1 ? 0.45 + 0.4 * random() : 0.25 + (0.7 * (k + random() * 0.6)) / others.length;
      const from = pointAlong(points, along);
      const turn = 0.62 + 0.34 * random();
      const aim = Math.max(-1.35, Math.min(1.35, angle + side * turn));
      const rest = Math.max(0.08, 1 - from[1]);
      grow.push({ i: child, parent: i, share: along, start: from, angle: aim, length: rest * Math.min(0.92, 0.4 + 0.13 * reach[child] + 0.16 * random()), depth: depth + 1 });
      side = -side;
    });
  }
  return lines;
}

// Moves and stretches the bolt into a box {left, right, top, bottom}, keeping its shape as far as the box lets it.
function fitBolt(lines, box) {
  let left = Infinity, right = -Infinity, top = Infinity, bottom = -Infinity;
  for (const line of lines) {
    if (!line) continue;
    for (const [x, y] of line.points) {
      left = Math.min(left, x);
      right = Math.max(right, x);
      top = Math.min(top, y);
      bottom = Math.max(bottom, y);
    }
  }
  if (!(bottom > top)) return lines.map(() => null);
  const scaleY = (box.bottom - box.top) / (bottom - top);
  const room = box.right - box.left;
  let scaleX = scaleY;
  if ((right - left) * scaleX > room) scaleX = room / (right - left);
  else if (right > left) scaleX = Math.max(scaleY, Math.min(scaleY * 1.8, (room * 0.72) / (right - left)));
  const middle = (box.left + box.right) / 2 - ((left + right) / 2) * scaleX;
  return lines.map((line) => line && {
    ...line,
    points: line.points.map(([x, y]) => [middle + x * scaleX, box.top + (y - top) * scaleY]),
  });
}
