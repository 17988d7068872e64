// What the page does when it is touched: boxes and readings that are kept, a wrong touch that is taken back.
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
  return { get: (key) => known[key], put, history: touches() };
}

/** What was touched last, so that it can be taken back: one entry for all that is typed into one box. */
function touches() {
  const done = [], button = document.getElementById("undo");
  const show = () => (button.parentElement.hidden = !done.length);
  button.addEventListener("click", () => {
    done.pop()?.back();
    show();
  });
  return (key, back) => {
    if (!done.length || done[done.length - 1].key !== key) done.push({ key, back });
    show();
  };
}

/** Keep what stands in a box; ``changed`` is called whenever that is another, taken back as well. */
function keep(box, key, kept, changed = () => {}) {
  const of = box.type === "checkbox" ? "checked" : "value", empty = box.type === "checkbox" ? false : "";
  box[of] = kept.get(key) ?? empty;
  const set = (value) => {
    box[of] = value;
    kept.put(key, value);
    changed();
  };
  box.addEventListener("input", () => {
    const old = kept.get(key) ?? empty;
    kept.history(box.type === "checkbox" ? {} : key, () => set(old));
    set(box[of]);
  });
}

function keepBoxes(kept) {
  for (const box of document.querySelectorAll("input[type=checkbox]")) keep(box, `box ${box.dataset.kept}`, kept);
}

function start() {
  const plan = JSON.parse(document.getElementById("plan").textContent);
  const kept = memory(plan.name);
  keepBoxes(kept);
  rodReadings(plan, kept);
  mover(plan, kept);
  pierTops(plan, kept);
}

if (typeof document !== "undefined") start();
