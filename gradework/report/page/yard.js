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
    const key = `box ${box.id}`;
    box.checked = kept.get(key) === true;
    box.addEventListener("change", () => kept.put(key, box.checked));
  }
}

/** Today's backsight on a mark: what the rod must read on everything that is built. */
function rodReadings(plan, kept) {
  const place = document.getElementById("rod");
  if (!place || !plan.marks.length || !plan.levels.length) return;
  const mark = document.getElementById("mark"), typed = document.getElementById("backsight");
  const told = document.getElementById("rod-told"), cells = [...place.querySelectorAll("td.rod")];
  const tell = () => {
    const read = reading(typed.value, plan.units), known = plan.marks[Number(mark.value)];
    const sight = known.elevation + read;
    cells.forEach((cell, k) => {
      const rest = sight - plan.levels[k].elevation;
      cell.textContent = Number.isFinite(read) ? (rest < 0 ? "above the line of sight" : rod(rest, plan.units)) : "";
    });
    const asked = plan.units.form === "inches" ? `say feet and inches: 4' 6 1/2"` : "a number, such as 1.25";
    told.textContent = Number.isFinite(read)
      ? `Line of sight at ${elevation(sight, plan.units)}.`
      : typed.value.trim() ? `Not a reading: ${asked}.` : "";
  };
  mark.value = kept.get("mark") ?? "0";
  typed.value = kept.get("backsight") ?? "";
  for (const [from, key] of [[mark, "mark"], [typed, "backsight"]]) {
    from.addEventListener("input", () => {
      kept.put(key, from.value);
      tell();
    });
  }
  place.hidden = false;
  tell();
}

/** Another level of the pad: what it takes there, exactly; all else says that the plan must be run again. */
function stepper(plan) {
  const place = document.getElementById("stepper"), pad = plan.pad;
  if (!place || !pad) return;
  const shown = document.getElementById("level"), line = document.getElementById("take");
  const figures = Object.fromEntries(["dig", "gravel", "edge"].map((one) => [one, document.getElementById(`${one}-now`)]));
  const drawn = document.querySelector("svg .gravel"), moved = document.querySelectorAll(".moves");
  let steps = 0;
  const tell = () => {
    const level = pad.level + steps * plan.units.step, sums = padSums(pad, plan.ground, level);
    const broken = pad.limits.filter((one) => (one.least ? level < one.level - 1e-4 : level > one.level + 1e-4));
    shown.textContent = elevation(level, plan.units);
    figures.dig.textContent = volume(sums.dig, plan.units);
    figures.gravel.textContent = mass(sums.gravel * pad.density, plan.units);
    figures.edge.textContent = depth(sums.edge, plan.units);
    line.textContent = steps ? `level = ${fixed(level / pad.unit, pad.digits)}` : "";
    const past = broken.map((one) => one.name).join(", ");
    document.getElementById("limits").textContent = past ? `Past its limits: ${past}.` : "";
    document.body.classList.toggle("moved", steps !== 0);
    document.getElementById("again").hidden = steps === 0;
    const rows = pad.spans.map((span) => gravelAt(pad, plan.section, span, level));
    drawn.setAttribute("d", rows.map((row) => `M${row.map((one) => inPicture(plan.section, one)).join(" L")} Z`).join(" "));
    const by = -steps * plan.units.step * plan.section.scale;
    moved.forEach((one) => one.setAttribute("transform", `translate(0 ${by.toFixed(1)})`));
  };
  for (const [id, by] of [["lower", -1], ["higher", 1]]) {
    document.getElementById(id).addEventListener("click", () => {
      steps += by;
      tell();
    });
  }
  document.getElementById("back").addEventListener("click", () => {
    steps = 0;
    tell();
  });
  place.hidden = false;
  tell();
}

function inPicture(section, [along, height]) {
  return `${((along - section.left) * section.scale).toFixed(1)} ${((section.high - height) * section.scale).toFixed(1)}`;
}

function start() {
  const plan = JSON.parse(document.getElementById("plan").textContent);
  const kept = memory(plan.name);
  keepBoxes(kept);
  rodReadings(plan, kept);
  stepper(plan);
}

if (typeof document !== "undefined") start();
