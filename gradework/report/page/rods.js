// Today's backsight on a mark, what the rod must read, and how far what was read there is off.

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
  keep(typed, "backsight", kept, tell);
  boxes.forEach((box, k) => keep(box, `read ${named(plan.levels[k], plan.levels[k].what)}`, kept, tell));
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
    const said = Number.isFinite(off) ? level + asDug(plan.levels[k], off, plan.units) : "not a reading";
    told[k].textContent = box.value.trim() ? said : "";
    return off;
  });
}

/** What changes at a pier whose hole ends so far too high: its bed, where that stays within its limits. */
function asDug(one, off, units) {
  if (!one.bed || depth(Math.abs(off), units) === depth(0, units)) return "";
  const { thick, least, most } = one.bed, bed = thick - off;
  if (bed < least - 1e-4) return `; dig ${depth(least - bed, units)} deeper, or save and ask for another stack`;
  if (bed > most + 1e-4) return `; the bed would be ${depth(bed, units)}: save and ask for another stack`;
  return `; bed ${depth(bed, units)}`;
}

/** The level that needs the least rework: fewest tops moved, then the least movement, then nearest to the plan. */
function bestLevel(tops, tolerance, planned) {
  const half = tolerance / 2, round = (value) => Math.round(value * 1e9);
  const work = (level) => {
    const moved = tops.map((top) => Math.abs(top - level)).filter((off) => off > half + 1e-9);
    return [moved.length, round(moved.reduce((sum, one) => sum + one, 0)), round(Math.abs(level - planned)), level];
  };
  const before = (one, other) => {
    const k = one.findIndex((value, place) => value !== other[place]);
    return k >= 0 && one[k] < other[k];
  };
  const tried = [planned, ...tops.flatMap((top) => [top, top - half, top + half])].map(work);
  return tried.reduce((best, one) => (before(one, best) ? one : best));
}

/** Of the tops that were read: how far apart they are, and the level that takes the least rework. */
function tellTops(plan, off) {
  const tops = off.filter((one, k) => plan.levels[k].stage === "tops" && Number.isFinite(one));
  const place = document.getElementById("tops-told");
  if (tops.length < 2) {
    place.textContent = "";
    return;
  }
  const planned = plan.levels.find((one) => one.stage === "tops").elevation, apart = Math.max(...tops) - Math.min(...tops);
  const [count, , , level] = bestLevel(tops.map((off) => planned + off), plan.tolerance, planned);
  const rework = count ? `${count} of them to bring there` : "none of them to move";
  place.textContent = `${tops.length} tops, ${depth(apart, plan.units)} apart. Best common level ${elevation(level, plan.units)}: ${rework}.`;
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
