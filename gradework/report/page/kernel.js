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

/** Rings turned about a centre by so many degrees, anticlockwise, then moved. */
function moved(rings, centre, { dx, dy, turn }) {
  const c = Math.cos((turn * Math.PI) / 180), s = Math.sin((turn * Math.PI) / 180);
  return rings.map((ring) => ring.map(([x, y]) => {
    const u = x - centre[0], v = y - centre[1];
    return [centre[0] + c * u - s * v + dx, centre[1] + s * u + c * v + dy];
  }));
}

/** The middle of a ring, weighing every part of it alike. */
function centreOf(ring) {
  const area = integral(ring, 0, 0, 1);
  return [integral(ring, 1, 0, 0) / area, integral(ring, 0, 1, 0) / area];
}

/** The ground along a line from one place to another: [distance, elevation] at every bend, in their order. */
function profile(ground, start, end) {
  const length = Math.hypot(end[0] - start[0], end[1] - start[1]);
  const ux = (end[0] - start[0]) / length, uy = (end[1] - start[1]) / length, found = [];
  for (const triangle of ground.triangles) {
    const corners = triangle.map((number) => ground.vertices[number]);
    const off = corners.map(([x, y]) => (x - start[0]) * uy - (y - start[1]) * ux);
    const met = [];
    for (let k = 0; k < 3; k++) {
      const a = off[k], b = off[(k + 1) % 3], p = corners[k], q = corners[(k + 1) % 3];
      if (a === b || a * b > 0) continue;
      const t = a / (a - b), x = p[0] + t * (q[0] - p[0]), y = p[1] + t * (q[1] - p[1]);
      met.push([(x - start[0]) * ux + (y - start[1]) * uy, p[2] + t * (q[2] - p[2])]);
    }
    if (met.length < 2) continue;
    met.sort((one, other) => one[0] - other[0]);
    const [low, high] = [met[0], met[met.length - 1]];
    const at = (d) => low[1] + ((d - low[0]) / (high[0] - low[0] || 1)) * (high[1] - low[1]);
    const first = Math.max(low[0], 0), last = Math.min(high[0], length);
    if (last > first) found.push([first, at(first)], [last, at(last)]);
  }
  return found.sort((one, other) => one[0] - other[0]);
}

/** The lowest ground along the sides of rings. */
function lowestAlong(ground, rings) {
  let low = Infinity;
  for (const ring of rings) {
    ring.forEach((p, k) => {
      for (const one of profile(ground, p, ring[(k + 1) % ring.length])) low = Math.min(low, one[1]);
    });
  }
  return low;
}

/** Digging in place and gravel compacted under a pad of these rings at a level, without what is dug beside
 *  it; its highest edge; and how much of it lies beyond the survey, square metres. */
function padSums(pad, ground, rings, level) {
  const sums = cutAndFill(ground, rings, level + pad.strip - pad.gravel);
  const whole = rings.reduce((area, ring) => area + integral(ring, 0, 0, 1), 0);
  return {
    cut: sums.cut,
    fill: sums.fill,
    dig: pad.strip * sums.area + sums.cut,
    gravel: pad.gravel * sums.area + sums.fill,
    edge: Math.max(level - lowestAlong(ground, rings), 0),
    beyond: whole - sums.area,
  };
}

/** The gravel in a section over a span of it at a level: its outline, distance and elevation. */
function gravelAt(pad, line, span, level) {
  const most = level - pad.gravel, under = [];
  const at = (x) => {
    let k = 1;
    while (k < line.length - 1 && line[k][0] < x) k++;
    const [p, q] = [line[k - 1], line[k]];
    return p[1] + ((x - p[0]) / (q[0] - p[0] || 1)) * (q[1] - p[1]) - pad.strip;
  };
  const inner = line.map((one) => one[0]).filter((x) => x > span[0] && x < span[1]);
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

/** Money for digging under a pad, hauling what is dug, and its gravel; without edge and what is beside it. */
function padMoney(pad, sums) {
  const { dig, haul, gravel } = pad.prices;
  return (dig + haul * pad.swell) * sums.dig + gravel * pad.density * sums.gravel;
}

/** Rings with every side moved outward by a margin, corners mitred; null where that turns a side round. */
function grown(rings, margin) {
  const found = rings.map((ring) => ring.map((p, k) => {
    const before = ring[(k + ring.length - 1) % ring.length], after = ring[(k + 1) % ring.length];
    const [ux, uy, vx, vy] = [p[0] - before[0], p[1] - before[1], after[0] - p[0], after[1] - p[1]];
    const u = Math.hypot(ux, uy), v = Math.hypot(vx, vy), [ax, ay, bx, by] = [uy / u, -ux / u, vy / v, -vx / v];
    const share = margin / (1 + ax * bx + ay * by);
    return [p[0] + share * (ax + bx), p[1] + share * (ay + by)];
  }));
  const kept = found.every((ring, n) => ring.every((p, k) => {
    const q = ring[(k + 1) % ring.length], own = rings[n], o = own[k], r = own[(k + 1) % own.length];
    return (q[0] - p[0]) * (r[0] - o[0]) + (q[1] - p[1]) * (r[1] - o[1]) > 0;
  }));
  return kept ? found : null;
}

/** Where a line from one place to another runs inside rings: spans of the distance along it. */
function spansOf(rings, start, end) {
  const length = Math.hypot(end[0] - start[0], end[1] - start[1]), met = [];
  const ux = (end[0] - start[0]) / length, uy = (end[1] - start[1]) / length;
  for (const ring of rings) {
    ring.forEach((p, k) => {
      const q = ring[(k + 1) % ring.length];
      const [a, b] = [p, q].map(([x, y]) => (x - start[0]) * uy - (y - start[1]) * ux);
      if (a >= 0 === b >= 0) return;
      const t = a / (a - b), x = p[0] + t * (q[0] - p[0]), y = p[1] + t * (q[1] - p[1]);
      met.push((x - start[0]) * ux + (y - start[1]) * uy);
    });
  }
  met.sort((one, other) => one - other);
  return met.filter((_, k) => k % 2 === 0).map((d, k) => [d, met[2 * k + 1]]);
}
