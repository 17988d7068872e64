// Another level, place or margin of the pad, another top of the piers: what that takes, exactly.

/** Another level, place or margin of the pad: what it takes there, exactly; all else says: run the plan again. */
function mover(plan, kept) {
  const place = document.getElementById("stepper"), { pad, yard } = plan;
  if (!place || !pad) return;
  const own = { rise: 0, dx: 0, dy: 0, turn: 0, margin: pad.margin }, state = { ...own };
  const centre = centreOf(yard.building[0]), margin = document.getElementById("margin");
  const tell = () => {
    const still = Object.keys(own).every((key) => state[key] === own[key]), level = pad.level + state.rise;
    document.getElementById("level").textContent = elevation(level, plan.units);
    if (margin) margin.textContent = depth(state.margin, plan.units);
    document.body.classList.toggle("moved", !still);
    document.getElementById("again").hidden = still;
    const rings = padRings(plan, state);
    tellFigures(plan, rings && moved(rings, centre, state), level);
    document.getElementById("take").textContent = lines(plan, state, centre, level).join("\n");
    drawThere(plan, state, centre, level, rings);
  };
  const set = (some) => {
    Object.assign(state, some);
    tell();
  };
  const change = (some, key = {}) => {
    const old = { ...state };
    kept.history(key, () => set(old));
    set(some);
  };
  buttons(plan, state, own, change);
  drag(yard, state, change);
  for (const id of ["stepper", "places"]) document.getElementById(id).hidden = false;
  tell();
}

/** What each button changes. */
function buttons(plan, state, own, change) {
  const { pad, units } = plan, stride = units.metric ? 0.1 : units.foot / 2;
  const click = (id, some) => document.getElementById(id)?.addEventListener("click", () => change(some()));
  click("lower", () => ({ rise: state.rise - units.step }));
  click("higher", () => ({ rise: state.rise + units.step }));
  click("left", () => ({ turn: state.turn + 5 }));
  click("right", () => ({ turn: state.turn - 5 }));
  click("narrower", () => ({ margin: Math.max(state.margin - 0.5 * stride, 0) }));
  click("wider", () => ({ margin: state.margin + 0.5 * stride }));
  click("back", () => own);
  pad.rules.forEach((rule, k) => click(`rule-${k}`, () => ({ rise: rule.level - pad.level })));
  for (const [id, x, y] of [["west", -1, 0], ["east", 1, 0], ["north", 0, 1], ["south", 0, -1]]) {
    click(id, () => ({ dx: state.dx + x * stride, dy: state.dy + y * stride }));
  }
}

/** The outline of the pad where the building stands as planned; null where so wide a margin closes a notch. */
function padRings({ pad, yard }, state) {
  return state.margin === pad.margin ? pad.rings : grown(yard.building, state.margin);
}

/** Let the building be dragged on the picture of the yard. */
function drag(yard, state, change) {
  const house = document.getElementById("house"), picture = house.closest("svg");
  let from = null;
  const at = (event) => {
    const wide = picture.getBoundingClientRect().width / picture.viewBox.baseVal.width;
    return [event.clientX / wide / yard.scale, -event.clientY / wide / yard.scale];
  };
  house.addEventListener("pointerdown", (event) => {
    house.setPointerCapture(event.pointerId);
    from = { at: at(event), dx: state.dx, dy: state.dy, key: {} };
    event.preventDefault();
  });
  house.addEventListener("pointermove", (event) => {
    if (!from) return;
    const [x, y] = at(event);
    change({ dx: from.dx + x - from.at[0], dy: from.dy + y - from.at[1] }, from.key);
  });
  for (const end of ["pointerup", "pointercancel"]) house.addEventListener(end, () => (from = null));
}

function tellFigures(plan, rings, level) {
  const { pad, units } = plan, sums = rings && padSums(pad, plan.ground, rings, level);
  const beyond = !sums || sums.beyond > 1e-6;
  const told = beyond ? {} : {
    dig: volume(sums.dig, units), gravel: mass(sums.gravel * pad.density, units), edge: depth(sums.edge, units),
    cut: volume(sums.cut, units), fill: volume(sums.fill, units), cost: pad.prices && fixed(padMoney(pad, sums), 0),
  };
  for (const name of ["dig", "gravel", "edge", "cut", "fill", "cost"]) {
    const place = document.getElementById(`${name}-now`);
    if (place) place.textContent = told[name] ?? "not known";
  }
  const past = pad.limits.filter((one) => (one.least ? level < one.level - 1e-4 : level > one.level + 1e-4));
  const names = past.map((one) => one.name).join(", ");
  const there = document.body.classList.contains("moved");
  const outside = sums ? "It reaches beyond the survey: shoot more points there." : "So wide a margin closes a notch of the building.";
  document.getElementById("limits").textContent = beyond ? outside : there && names ? `Past limits of the planned place: ${names}.` : "";
}

/** A thickness as a job has it, with its unit. */
function long(metres, units) {
  return units.metric ? `${fixed(metres * 1000, 0)} mm` : `${Number(fixed(metres / 0.0254, 2))} in`;
}

/** The lines of the job file that put it there. */
function lines(plan, state, centre, level) {
  const { pad, yard } = plan, told = [], say = (metres) => fixed(metres / pad.unit, pad.digits);
  if (state.dx || state.dy || state.turn) {
    const [[corner]] = moved(yard.building, centre, state);
    const site = [corner[0] + yard.origin[0], corner[1] + yard.origin[1]];
    if (yard.turn === null) {
      told.push(`[building] ${say(state.dx)} along x, ${say(state.dy)} along y, turned by ${state.turn} degrees`);
    } else {
      told.push("[building]", `corner = [${say(site[0])}, ${say(site[1])}]`, `turn = ${fixed(yard.turn + state.turn, 1)}`);
    }
  }
  if (state.rise || state.margin !== pad.margin) told.push("[pad]");
  if (state.rise) told.push(`level = ${say(level)}`);
  if (state.margin !== pad.margin) told.push(`margin = "${long(state.margin, plan.units)}"`);
  return told;
}

/** Move what is drawn: the building on the yard, and the section under it. */
function drawThere(plan, state, centre, level, rings) {
  const { pad, yard, section } = plan, from = section.box;
  const x = (centre[0] - yard.left) * yard.scale, y = (yard.high - centre[1]) * yard.scale;
  const shift = `translate(${(state.dx * yard.scale).toFixed(1)} ${(-state.dy * yard.scale).toFixed(1)})`;
  document.getElementById("house").setAttribute("transform", `${shift} rotate(${-state.turn} ${x.toFixed(1)} ${y.toFixed(1)})`);
  const ends = [from[0], from[1]].map((d) => [section.start[0] + d * section.along[0], section.start[1] + d * section.along[1]]);
  const [[start, end]] = moved([ends], centre, state);
  const line = profile(plan.ground, start, end).map(([d, z]) => [d + from[0], z]);
  const spot = ([d, z]) => `${((d - section.left) * section.scale).toFixed(1)} ${((section.high - z) * section.scale).toFixed(1)}`;
  const draw = (where, rows) => document.querySelector(where).setAttribute("d", rows.map((row) => `M${row.map(spot).join(" L")} Z`).join(" "));
  const spans = rings ? spansOf(rings, ...ends).map((span) => span.map((d) => d + from[0])) : [];
  const known = line.length > 1 && spans.every((span) => line[0][0] <= span[0] && line[line.length - 1][0] >= span[1]);
  draw("svg .gravel", known ? spans.map((span) => gravelAt(pad, line, span, level)) : []);
  const at = ([px, py]) => `${((px - yard.left) * yard.scale).toFixed(1)},${((yard.high - py) * yard.scale).toFixed(1)}`;
  const edge = document.querySelector("#house .margin");
  if (edge && rings) edge.setAttribute("points", [...rings[0], rings[0][0]].map(at).join(" "));
  document.querySelector("svg .before").setAttribute("points", line.map(spot).join(" "));
  const by = -state.rise * section.scale;
  document.querySelectorAll(".moves").forEach((one) => one.setAttribute("transform", `translate(0 ${by.toFixed(1)})`));
}

/** Another common top of the piers: holes, beds and blocks as the program found them there. */
function pierTops(plan, kept) {
  const place = document.getElementById("stepper"), { tops } = plan;
  if (!place || !tops || !tops.length) return;
  const own = tops.findIndex((one) => one.steps === 0);
  let at = own;
  const tell = () => {
    const one = tops[at];
    document.getElementById("level").textContent = elevation(one.top, plan.units);
    document.body.classList.toggle("moved", at !== own);
    document.getElementById("again").hidden = at === own;
    for (const name of ["dig", "beds", "blocks", "tallest"]) document.getElementById(`${name}-now`).textContent = one[name];
    document.getElementById("limits").textContent = at === 0 ? "No lower top on this page." : at === tops.length - 1 ? "No higher top on this page." : "";
    document.getElementById("take").textContent = `[piers]\n${one.take}`;
    document.querySelector("#piers caption").textContent = `All tops at ${elevation(one.top, plan.units)}; holes measured at their low side.`;
    document.querySelectorAll("#piers tr:nth-child(n + 2)").forEach((row, k) => {
      row.querySelectorAll("td").forEach((cell, column) => (cell.textContent = one.rows[k][column]));
    });
    drawTops(plan, one, one.top - tops[own].top);
  };
  const go = (to) => {
    at = Math.min(Math.max(to, 0), tops.length - 1);
    tell();
  };
  const click = (id, to) => document.getElementById(id).addEventListener("click", () => {
    const old = at;
    kept.history({}, () => go(old));
    go(to());
  });
  click("lower", () => at - 1);
  click("higher", () => at + 1);
  click("back", () => own);
  place.hidden = false;
  tell();
}

/** Draw beds and blocks in the section anew, and what lies on them higher by so many metres. */
function drawTops(plan, one, higher) {
  const { section } = plan, walls = document.querySelector("svg .walls"), picture = walls.closest("svg");
  const spot = ([d, z]) => `${((d - section.left) * section.scale).toFixed(1)} ${((section.high - z) * section.scale).toFixed(1)}`;
  picture.querySelectorAll(".bed, .block, .concrete").forEach((old) => old.remove());
  for (const part of one.parts) {
    const drawn = document.createElementNS("http://www.w3.org/2000/svg", "path");
    drawn.setAttribute("class", part.stuff);
    drawn.setAttribute("d", `M${part.corners.map(spot).join(" L")} Z`);
    walls.before(drawn);
  }
  const by = (-higher * section.scale).toFixed(1);
  document.querySelectorAll(".moves").forEach((some) => some.setAttribute("transform", `translate(0 ${by})`));
}
