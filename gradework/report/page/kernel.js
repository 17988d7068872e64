// Exact sums over the surveyed triangles, by the closed forms of the program. Metres, local to the survey;
// a ring is a list of [x, y]; holes run the other way round than outlines, so that they count as less.

/** What lies of a ring where a x + b y + c is zero or more. */
function kept(ring, a, b, c) {
  const found = [];
  for (let k = 0; k < ring.length; k++) {
    const p = ring[k], q = ring[(k + 1) % ring.length];
    const u = a * p[0] + b * p[1] + c, v = a * q[0] + b * q[1] + c;
    if (u >= 0) found.push(p);
    if (u >= 0 !== v >= 0) {
      const t = u / (u - v);
      found.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
    }
  }
  return found;
}

/** The integral of a x + b y + c over a ring, by its sides; from its first corner, where figures are small. */
function integral(ring, a, b, c) {
  if (ring.length < 3) return 0;
  const [ox, oy] = ring[0];
  let area = 0, alongX = 0, alongY = 0;
  for (let k = 1; k + 1 < ring.length; k++) {
    const ux = ring[k][0] - ox, uy = ring[k][1] - oy, vx = ring[k + 1][0] - ox, vy = ring[k + 1][1] - oy;
    const twice = ux * vy - uy * vx;
    area += twice / 2;
    alongX += (twice * (ux + vx)) / 6;
    alongY += (twice * (uy + vy)) / 6;
  }
  return a * alongX + b * alongY + (a * ox + b * oy + c) * area;
}

/** The plane through three corners [x, y, z]: z = a x + b y + c. */
function planeOf(p, q, r) {
  const ux = q[0] - p[0], uy = q[1] - p[1], uz = q[2] - p[2];
  const vx = r[0] - p[0], vy = r[1] - p[1], vz = r[2] - p[2];
  const twice = ux * vy - uy * vx;
  const a = (uz * vy - vz * uy) / twice, b = (ux * vz - vx * uz) / twice;
  return [a, b, p[2] - a * p[0] - b * p[1]];
}

/** The part of a ring inside a triangle, which runs anticlockwise. */
function within(ring, corners) {
  let part = ring;
  for (let k = 0; k < 3 && part.length; k++) {
    const p = corners[k], q = corners[(k + 1) % 3];
    const a = p[1] - q[1], b = q[0] - p[0];
    part = kept(part, a, b, -a * p[0] - b * p[1]);
  }
  return part;
}

/** Ground above and below a level in rings: {area, cut, fill}, square and cubic metres. */
function cutAndFill(ground, rings, level) {
  const sums = { area: 0, cut: 0, fill: 0 };
  for (const triangle of ground.triangles) {
    const corners = triangle.map((number) => ground.vertices[number]);
    for (const ring of rings) {
      const part = within(ring, corners);
      if (part.length < 3) continue;
      const [a, b, c] = planeOf(...corners);
      sums.area += integral(part, 0, 0, 1);
      sums.cut += integral(kept(part, a, b, c - level), a, b, c - level);
      sums.fill += integral(kept(part, -a, -b, level - c), -a, -b, level - c);
    }
  }
  return sums;
}

/** Digging in place and gravel compacted under a pad at a level, without what is dug beside it. */
function padSums(pad, ground, level) {
  const sums = cutAndFill(ground, pad.rings, level + pad.strip - pad.gravel);
  return {
    dig: pad.strip * sums.area + sums.cut,
    gravel: pad.gravel * sums.area + sums.fill,
    edge: Math.max(level - pad.low, 0),
  };
}

/** The gravel in the section at another level: its outline, distance and elevation, over one span. */
function gravelAt(pad, section, span, level) {
  const most = level - pad.gravel, under = [];
  const at = (x) => {
    const all = section.ground;
    let k = 1;
    while (k < all.length - 1 && all[k][0] < x) k++;
    const [p, q] = [all[k - 1], all[k]];
    return p[1] + ((x - p[0]) / (q[0] - p[0])) * (q[1] - p[1]) - pad.strip;
  };
  const inner = section.ground.map((one) => one[0]).filter((x) => x > span[0] && x < span[1]);
  for (const x of [span[0], ...inner, span[1]]) {
    const last = under[under.length - 1];
    if (last && (last[2] < most) !== (at(x) < most)) {
      const t = (most - last[2]) / (at(x) - last[2]);
      under.push([last[0] + t * (x - last[0]), most, most]);
    }
    under.push([x, Math.min(at(x), most), at(x)]);
  }
  return [[span[0], level], ...under.map((one) => [one[0], one[1]]), [span[1], level]];
}
