// What the page does when it is touched: another level, today's rod readings, boxes that stay ticked.
// Nothing here is needed to read the page. What is typed or ticked is kept by the browser where that lets it.


/** Where what is typed is kept; nowhere in a page that a mail or file app shows, which is said at once. */
function memory(name) {
  let known = {};
  try {
    known = JSON.parse(localStorage.getItem(name) ?? "{}");
    localStorage.setItem(name, JSON.stringify(known));
  } catch {
    document.getElementById("forgets").hidden = false;
  }
  const put = (key, value) => {
    known[key] = value;
    try {
      localStorage.setItem(name, JSON.stringify(known));
    } catch {
      document.getElementById("forgets").hidden = false;
    }
  };
  return { get: (key) => known[key], put };
}

function keepBoxes(kept) {
  for (const box of document.querySelectorAll("input[type=checkbox]")) {
    const key = `box ${box.dataset.bought}`;
    box.checked = kept.get(key) === true;
    box.addEventListener("change", () => kept.put(key, box.checked));
  }
}

/** Today's backsight on a mark: what the rod must read on everything that is built, and how far what was read
 *  there is off. */
function rodReadings(plan, kept) {
  const place = document.getElementById("rod");
  if (!place || !plan.marks.length || !plan.levels.length) return;
  const mark = document.getElementById("mark"), typed = document.getElementById("backsight");
  const boxes = [...place.querySelectorAll("input.read")];
  const tell = () => {
    const sight = plan.marks[Number(mark.value)].elevation + reading(typed.value, plan.units);
    tellRods(plan, place, sight, typed.value);
    tellTops(plan, tellOff(plan, place, boxes, sight));
  };
  // kept by what they are read on and how high that is: a reading on something else is not taken over
  const named = (one, what) => `${what} ${one.elevation.toFixed(4)}`;
  const marks = plan.marks.map((one) => named(one, one.name));
  mark.value = Math.max(marks.indexOf(kept.get("mark")), 0);
  mark.addEventListener("input", () => {
    kept.put("mark", marks[Number(mark.value)]);
    tell();
  });
  for (const [from, key] of [[typed, "backsight"], ...boxes.map((box, k) => [box, `read ${named(plan.levels[k], plan.levels[k].what)}`])]) {
    from.value = kept.get(key) ?? "";
    from.addEventListener("input", () => {
      kept.put(key, from.value);
      tell();
    });
  }
  for (const button of place.querySelectorAll("button.save")) {
    button.addEventListener("click", () => save(plan, button.dataset.stage, mark, typed, boxes));
  }
  place.hidden = false;
  tell();
}

function tellRods(plan, place, sight, typed) {
  const { units } = plan, known = Number.isFinite(sight);
  place.querySelectorAll("td.rod").forEach((cell, k) => {
    const rest = sight - plan.levels[k].elevation;
    cell.textContent = known ? (rest < 0 ? "above the line of sight" : rod(rest, units)) : "";
  });
  const asked = units.form === "inches" ? `say feet and inches: 4' 6 1/2"` : "a number, such as 1.25";
  const wrong = typed.trim() ? `Not a reading: ${asked}.` : "";
  document.getElementById("rod-told").textContent = known ? `Line of sight at ${elevation(sight, units)}.` : wrong;
}

/** How far each thing that was read is too high (above zero) or too low, metres; NaN where nothing was read. */
function tellOff(plan, place, boxes, sight) {
  const told = place.querySelectorAll(".off");
  return boxes.map((box, k) => {
    const off = sight - plan.levels[k].elevation - reading(box.value, plan.units);
    const far = depth(Math.abs(off), plan.units);
    const level = far === depth(0, plan.units) ? "right" : `${far} too ${off > 0 ? "high" : "low"}`;
    told[k].textContent = box.value.trim() ? (Number.isFinite(off) ? level : "not a reading") : "";
    return off;
  });
}

/** Of the tops that were read: how far apart they are, and the level that they have in the mean. */
function tellTops(plan, off) {
  const tops = off.filter((one, k) => plan.levels[k].stage === "tops" && Number.isFinite(one));
  const place = document.getElementById("tops-told");
  if (tops.length < 2) {
    place.textContent = "";
    return;
  }
  const mean = tops.reduce((sum, one) => sum + one, 0) / tops.length, apart = Math.max(...tops) - Math.min(...tops);
  const planned = plan.levels.find((one) => one.stage === "tops").elevation;
  place.textContent = `${tops.length} tops, ${depth(apart, plan.units)} apart; in the mean at ${elevation(planned + mean, plan.units)}.`;
}

/** The readings of one stage as the program takes them back, on the mark that they begin on. */
function readingsTable(plan, stage, mark, backsight, read) {
  const cell = (text) => (/[",]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text);
  const rows = plan.levels.map((one, k) => [one, read[k].trim()]).filter(([one, said]) => one.stage === stage && said);
  const body = rows.map(([one, said]) => [one.station, "", cell(said), ""].join(","));
  return ["station,BS,IS,FS", [cell(mark), cell(backsight.trim()), "", ""].join(","), ...body].join("\n") + "\n";
}

function save(plan, stage, mark, typed, boxes) {
  const table = readingsTable(plan, stage, plan.marks[Number(mark.value)].name, typed.value, boxes.map((box) => box.value));
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([table], { type: "text/csv" }));
  link.download = `${stage}.csv`;
  link.click();
  URL.revokeObjectURL(link.href);
}

/** Another level or place of the pad: what it takes there, exactly; all else says: run the plan again. */
function mover(plan) {
  const place = document.getElementById("stepper"), { pad, yard } = plan;
  if (!place || !pad) return;
  const state = { steps: 0, dx: 0, dy: 0, turn: 0 }, centre = centreOf(yard.building[0]);
  const tell = () => {
    const still = !state.steps && !state.dx && !state.dy && !state.turn;
    const level = pad.level + state.steps * plan.units.step;
    document.getElementById("level").textContent = elevation(level, plan.units);
    document.body.classList.toggle("moved", !still);
    document.getElementById("again").hidden = still;
    tellFigures(plan, moved(pad.rings, centre, state), level);
    document.getElementById("take").textContent = lines(plan, state, centre, level).join("\n");
    drawThere(plan, state, centre, level);
  };
  const change = (some) => {
    Object.assign(state, some);
    tell();
  };
  const click = (id, some) => document.getElementById(id).addEventListener("click", () => change(some()));
  click("lower", () => ({ steps: state.steps - 1 }));
  click("higher", () => ({ steps: state.steps + 1 }));
  click("left", () => ({ turn: state.turn + 5 }));
  click("right", () => ({ turn: state.turn - 5 }));
  click("back", () => ({ steps: 0, dx: 0, dy: 0, turn: 0 }));
  const stride = plan.units.metric ? 0.1 : plan.units.foot / 2;
  for (const [id, x, y] of [["west", -1, 0], ["east", 1, 0], ["north", 0, 1], ["south", 0, -1]]) {
    click(id, () => ({ dx: state.dx + x * stride, dy: state.dy + y * stride }));
  }
  drag(yard, state, change);
  for (const id of ["stepper", "places"]) document.getElementById(id).hidden = false;
  tell();
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
    from = { at: at(event), dx: state.dx, dy: state.dy };
    event.preventDefault();
  });
  house.addEventListener("pointermove", (event) => {
    if (!from) return;
    const [x, y] = at(event);
    change({ dx: from.dx + x - from.at[0], dy: from.dy + y - from.at[1] });
  });
  for (const end of ["pointerup", "pointercancel"]) house.addEventListener(end, () => (from = null));
}

function tellFigures(plan, rings, level) {
  const { pad, units } = plan, sums = padSums(pad, plan.ground, rings, level);
  const beyond = sums.beyond > 1e-6;
  const told = { dig: volume(sums.dig, units), gravel: mass(sums.gravel * pad.density, units), edge: depth(sums.edge, units) };
  for (const [name, words] of Object.entries(told)) {
    document.getElementById(`${name}-now`).textContent = beyond ? "not known" : words;
  }
  const past = pad.limits.filter((one) => (one.least ? level < one.level - 1e-4 : level > one.level + 1e-4));
  const names = past.map((one) => one.name).join(", ");
  const there = document.body.classList.contains("moved");
  document.getElementById("limits").textContent = beyond
    ? "It reaches beyond the survey: shoot more points there."
    : there && names ? `Past limits of the planned place: ${names}.` : "";
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
  if (state.steps) told.push("[pad]", `level = ${say(level)}`);
  return told;
}

/** Move what is drawn: the building on the yard, and the section under it. */
function drawThere(plan, state, centre, level) {
  const { pad, yard, section } = plan, from = section.box;
  const x = (centre[0] - yard.left) * yard.scale, y = (yard.high - centre[1]) * yard.scale;
  const shift = `translate(${(state.dx * yard.scale).toFixed(1)} ${(-state.dy * yard.scale).toFixed(1)})`;
  document.getElementById("house").setAttribute("transform", `${shift} rotate(${-state.turn} ${x.toFixed(1)} ${y.toFixed(1)})`);
  const ends = [from[0], from[1]].map((d) => [section.start[0] + d * section.along[0], section.start[1] + d * section.along[1]]);
  const [[start, end]] = moved([ends], centre, state);
  const line = profile(plan.ground, start, end).map(([d, z]) => [d + from[0], z]);
  const spot = ([d, z]) => `${((d - section.left) * section.scale).toFixed(1)} ${((section.high - z) * section.scale).toFixed(1)}`;
  const draw = (where, rows) => document.querySelector(where).setAttribute("d", rows.map((row) => `M${row.map(spot).join(" L")} Z`).join(" "));
  const known = line.length > 1 && pad.spans.every((span) => line[0][0] <= span[0] && line[line.length - 1][0] >= span[1]);
  draw("svg .gravel", known ? pad.spans.map((span) => gravelAt(pad, line, span, level)) : []);
  document.querySelector("svg .before").setAttribute("points", line.map(spot).join(" "));
  const by = -state.steps * plan.units.step * section.scale;
  document.querySelectorAll(".moves").forEach((one) => one.setAttribute("transform", `translate(0 ${by.toFixed(1)})`));
}

/** Another common top of the piers: holes, beds and blocks as the program found them there. */
function pierTops(plan) {
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
  const click = (id, to) => document.getElementById(id).addEventListener("click", () => {
    at = Math.min(Math.max(to(), 0), tops.length - 1);
    tell();
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

function start() {
  const plan = JSON.parse(document.getElementById("plan").textContent);
  const kept = memory(plan.name);
  keepBoxes(kept);
  rodReadings(plan, kept);
  mover(plan);
  pierTops(plan);
}

if (typeof document !== "undefined") start();
