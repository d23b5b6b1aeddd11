// Where branches hang and floods stand, as far as the rig says so: percent of the picture from its left edge, and up from
// the ground. What it doesn't say stays as the bolt was laid out.

// A picture {width, ground}: pixels from its top left corner, the ground `ground` pixels below its top.
const pixelsOf = ({ width, ground }, x, y) => [(width * x) / 100, ground * (1 - y / 100)];
const percentOf = ({ width, ground }, [x, y]) => {
  const round = (value) => Math.round(10 * Math.min(100, Math.max(0, value))) / 10;
  return { x: round((100 * x) / width), y: round(100 * (1 - y / ground)) };
};

// A line turned and stretched until it runs from `start` to `end`: it wanders as before.
function lineBetween(points, start, end) {
  const [[ax, ay], [bx, by]] = [points[0], points[points.length - 1]];
  const [dx, dy] = [bx - ax, by - ay];
  const long = dx * dx + dy * dy;
  if (!(long > 0)) return [start, end];
  const [ex, ey] = [end[0] - start[0], end[1] - start[1]];
  const [turnX, turnY] = [(ex * dx + ey * dy) / long, (ey * dx - ex * dy) / long];
  return points.map(([x, y]) => [start[0] + (x - ax) * turnX - (y - ay) * turnY, start[1] + (x - ax) * turnY + (y - ay) * turnX]);
}

const hasPlace = (channel) => channel.x !== undefined || channel.start_x !== undefined || channel.fork !== undefined;

// The lines of a bolt that was laid out for this picture, each with its ends where the rig has them.
function placeBolt(lines, channels, picture) {
  if (!channels.some(hasPlace)) return lines;
  const placed = lines.map(() => undefined);
  const place = (i) => {
    const line = lines[i];
    if (!line) return (placed[i] = null);
    const { x, y, start_x: startX, start_y: startY, fork } = channels[i];
    const share = fork === undefined ? line.share : fork / 100;
    let [start, end] = [line.points[0], line.points[line.points.length - 1]];
    if (line.parent >= 0) start = pointAlong(placed[line.parent].points, share);
    else if (startX !== undefined) start = pixelsOf(picture, startX, startY);
    if (x !== undefined) end = pixelsOf(picture, x, y);
    return (placed[i] = { ...line, share, points: lineBetween(line.points, start, end) });
  };
  // Parents first.
  for (let i = 0; i < lines.length; i++) {
    const chain = [];
    for (let at = i; at >= 0 && placed[at] === undefined; at = lines[at] ? lines[at].parent : -1) chain.push(at);
    while (chain.length) place(chain.pop());
  }
  return placed;
}
