// The bench page: the job file is the truth; every control writes one key of it.
const byId = (id) => document.getElementById(id);
const state = { job: null, sha: "", values: {}, sections: [], view: null, box: null, draft: 0 };

async function ask(way, said) {
  const options = said === undefined ? {} : {
    method: "POST", body: JSON.stringify(said), headers: { "content-type": "application/json" } };
  const answer = await fetch(way, options);
  const told = await answer.json().catch(() => ({ error: `no answer (${answer.status})` }));
  if (!answer.ok) throw Object.assign(new Error(told.error || `status ${answer.status}`), { status: answer.status, told });
  return told;
}
const at = (way) => `/api/job/${state.job.split("/").map(encodeURIComponent).join("/")}${way}`;
const say = (words) => { byId("said").textContent = words; };
const guarded = (work) => async (...all) => {
  try { await work(...all); } catch (fault) {
    say(fault.message);
    if (fault.status === 409 && state.job) await open(state.job, true);
  }
};

// --- jobs ---------------------------------------------------------------------------------------
async function listJobs() {
  const { jobs } = await ask("/api/jobs");
  const list = byId("job");
  list.replaceChildren(...jobs.map(({ job, name, state: how }) => new Option(`${name} (${job}, ${how})`, job)));
  if (!jobs.length) { byId("headline").textContent = "No job in this folder yet: make one below."; return; }
  list.value = jobs.some((one) => one.job === state.job) ? state.job : jobs[0].job;
  if (list.value !== state.job) await open(list.value);
}
async function open(job, keeps) {
  state.job = job;
  if (!keeps) { state.box = null; state.view = null; draw(); }
  taken(await ask(at("")));
  await Promise.all([draft(), listFiles()]);
}
function taken(told) {
  state.sha = told.sha256; state.values = told.values ?? {};
  byId("undo").disabled = !told.undo; byId("redo").disabled = !told.redo;
  build(told.mistakes);
}

// --- controls -----------------------------------------------------------------------------------
const valueAt = (way, from = state.values) => way.reduce((here, step) => (here == null ? undefined : here[step]), from);
function waysOf(name, table) {
  // Where a table stands in this file: once, or once for each element of an array of tables.
  const steps = name.split(".");
  let ways = [[]];
  for (const [place, step] of steps.entries()) {
    ways = ways.flatMap((way) => {
      const here = valueAt([...way, step]);
      if (Array.isArray(here)) return here.map((_, k) => [...way, step, k]);
      const isLast = place === steps.length - 1;
      return isLast && table.keys[0].is_listed ? [] : [[...way, step]];
    });
  }
  return ways;
}
function build(mistakes) {
  const opened = new Set([...document.querySelectorAll("#controls details[open]")].map((one) => one.dataset.title));
  const active = document.activeElement?.dataset?.way;
  const made = state.sections.map((section, number) => {
    const box = document.createElement("details");
    box.dataset.title = section.title;
    box.open = opened.size ? opened.has(section.title) : number < 2;
    const title = document.createElement("summary");
    title.textContent = section.title;
    box.append(title);
    let wrong = 0;
    for (const table of section.tables) {
      for (const way of waysOf(table.table, table)) {
        const group = document.createElement("fieldset");
        const name = document.createElement("legend");
        name.textContent = way.map((step) => (typeof step === "number" ? `${step + 1}` : step)).join(" ");
        group.append(name);
        const given = valueAt(way);
        for (const key of table.keys) {
          const [row, faults] = control(way, key, given, mistakes);
          wrong += faults;
          group.append(row);
        }
        box.append(group);
      }
      if (table.keys[0].is_listed && !table.table.includes(".")) {
        const more = document.createElement("button");
        more.type = "button"; more.textContent = `One more ${table.table}`;
        more.addEventListener("click", () => add(table));
        box.append(more);
      }
    }
    if (wrong) { title.append(` (${wrong} wrong)`); title.classList.add("wrong"); box.open = true; }
    return box;
  });
  const loose = mistakes.filter((one) => !one.shown).map((one) => {
    const line = document.createElement("p");
    line.className = "wrong";
    line.textContent = `${one.field ? `${one.field} ` : ""}${one.message}${one.line ? ` (line ${one.line})` : ""}`;
    return line;
  });
  byId("controls").replaceChildren(...loose, ...made);
  if (active) document.querySelector(`[data-way="${CSS.escape(active)}"]`)?.focus();
}
function shown(value) {
  if (value === undefined || value === null) return "";
  return typeof value === "string" ? value : JSON.stringify(value);
}
function control(way, key, given, mistakes) {
  const row = document.createElement("div");
  row.className = "key";
  const id = [...way, key.name].join("-");
  const value = given?.[key.name];
  const name = document.createElement("label");
  name.htmlFor = id; name.textContent = key.name.replaceAll("_", " ") + (key.is_required && given ? " *" : "");
  let field;
  if (key.kind === "choice" || key.kind === "yes-or-no") {
    field = document.createElement("select");
    const words = key.kind === "choice" ? key.choices : ["true", "false"];
    field.append(new Option(key.default === null ? "(not given)" : `(not given: ${shown(key.default)})`, ""));
    field.append(...words.map((word) => new Option(word, word)));
    field.value = value === undefined ? "" : String(value);
  } else {
    field = document.createElement("input");
    field.value = shown(value);
    field.placeholder = key.default === null ? `such as ${shown(key.example)}` : shown(key.default);
  }
  field.id = id; field.dataset.way = id;
  const help = document.createElement("span");
  help.id = `${id}-help`;
  help.textContent = `${key.meaning}. ${key.takes}${key.usual ? `; usual ${key.usual[0]} to ${key.usual[1]}` : ""}`;
  field.setAttribute("aria-describedby", help.id);
  field.addEventListener("change", guarded(() => edit(way, key, field, value)));
  row.append(name, field, help);
  const path = [...way, key.name].map((step, k, all) => (typeof step === "number" ? `[${step + 1}]` : (k && typeof all[k] === "string" ? `.${step}` : step))).join("");
  let faults = 0;
  for (const one of mistakes) {
    if (one.field !== path && !one.field.startsWith(`${path}[`) && !one.field.startsWith(`${path}.`)) continue;
    one.shown = true; faults += 1;
    const wrong = document.createElement("p");
    wrong.className = "wrong"; wrong.id = `${id}-wrong`;
    wrong.textContent = `${key.name} ${one.message}`;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", `${help.id} ${wrong.id}`);
    row.append(wrong);
  }
  return [row, faults];
}
function meant(key, text) {
  const words = text.trim();
  if (words === "") return null;
  if (key.kind === "yes-or-no") return words === "true";
  if (words === "true" || words === "false") return words === "true";
  if (key.kind === "count" && /^[0-9]+$/.test(words)) return Number(words);
  if (key.kind === "number" && /^[0-9.]+$/.test(words)) return Number(words);
  if (/^[[{]/.test(words)) { try { return JSON.parse(words); } catch { return words; } }
  return words;
}
async function edit(way, key, field, was) {
  taken(await ask(at("/edit"), { sha256: state.sha, table: way, key: key.name, value: meant(key, field.value), was: was ?? null }));
  say("");
  await draft();
}
const add = guarded(async (table) => {
  const count = (valueAt([table.table]) ?? []).length;
  const first = table.keys.find((key) => key.is_required) ?? table.keys[0];
  taken(await ask(at("/edit"), { sha256: state.sha, table: [table.table, count], key: first.name, value: first.example, was: null }));
  await draft();
});
for (const way of ["undo", "redo"]) byId(way).addEventListener("click", guarded(async () => {
  taken(await ask(at(`/back/${way}`), {}));
  await draft();
}));

// --- the piece ----------------------------------------------------------------------------------
async function draft() {
  const number = ++state.draft;
  byId("view").setAttribute("aria-busy", "true");
  const told = await ask(at("/draft"), {});
  if (number !== state.draft || told.superseded) return;
  byId("view").removeAttribute("aria-busy");
  if (told.mistakes) { document.documentElement.dataset.drawn = String(Number(document.documentElement.dataset.drawn ?? 0) + 1); headline(`Cannot be planned${state.view ? " (the piece is shown as it was)" : ""}: ${told.mistakes.map((one) => `${one.field} ${one.message}`).join("; ")}`, true); return; }
  show(told.view);
}
function headline(words, isStop) {
  byId("headline").textContent = words;
  byId("headline").classList.toggle("stop", Boolean(isStop));
}
function show(view) {
  const isSame = state.view && String(state.view.size_mm) === String(view.size_mm);
  state.view = view;
  if (!isSame || !state.box) whole();
  headline(view.headline, view.state === "stopped");
  byId("findings").replaceChildren(...view.findings.map((one) => {
    const line = document.createElement("li"), go = document.createElement("button");
    go.type = "button"; go.textContent = one.text;
    if (one.level === "stop") line.className = "stop";
    go.addEventListener("click", () => goTo(one.places));
    line.append(go);
    return line;
  }));
  draw();
  document.documentElement.dataset.drawn = String(Number(document.documentElement.dataset.drawn ?? 0) + 1);
}
const SHAPES = {
  seen: [["face_seen", "face"], ["seen", "made"]],
  worked: [["face", "resist"], ["worked", "open"]],
  finished: [["face", "face"], ["finished", "made"], ["too_much", "more"], ["too_little", "less"]],
};
const svg = (tag, what) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(what)) made.setAttribute(name, value);
  return made;
};
function draw(places = []) {
  const picture = byId("view");
  if (!state.view || !state.box) { picture.replaceChildren(); return; }
  const way = document.querySelector("input[name=way]:checked").value;
  const made = SHAPES[way].map(([name, kind]) => svg("path", { d: state.view.paths[name] ?? "", class: kind, "fill-rule": "evenodd", transform: "scale(.001)" }));
  if (byId("drawn").checked && way !== "seen") made.push(svg("path", { d: state.view.paths.drawn ?? "", class: "drawn", "fill-rule": "evenodd", transform: "scale(.001)" }));
  const high = state.view.size_mm[1];
  for (const [x, y] of places) made.push(svg("circle", { cx: x, cy: high - y, r: state.box[2] / 40, class: "place" }));
  picture.replaceChildren(...made);
  picture.setAttribute("viewBox", state.box.join(" "));
  picture.setAttribute("aria-label", `The piece, ${way}: ${state.view.headline}`);
}
function whole() {
  const [wide, high] = state.view.size_mm, rim = Math.max(wide, high) / 40;
  state.box = [-rim, -rim, wide + 2 * rim, high + 2 * rim];
}
function enlarge(by, x, y) {
  if (!state.box) return;
  const [x0, y0, w, h] = state.box, least = 0.02;
  const k = Math.max(by, least / w);
  if (w * k > 20 * Math.max(...state.view.size_mm)) return;
  state.box = [x - (x - x0) * k, y - (y - y0) * k, w * k, h * k];
  draw();
}
function goTo(places) {
  if (!places.length) return;
  const [x, y] = places[0], high = state.view.size_mm[1], wide = 6;
  document.querySelector("input[name=way][value=finished]").checked = true;
  state.box = [x - wide / 2, high - y - wide / 2, wide, wide];
  draw(places);
  byId("view").focus();
}
function spot(event) {
  const picture = byId("view"), matrix = picture.getScreenCTM();
  if (!matrix) return [0, 0];
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [point.x, point.y];
}
const picture = byId("view");
picture.addEventListener("wheel", (event) => {
  event.preventDefault();
  enlarge(event.deltaY > 0 ? 1.2 : 1 / 1.2, ...spot(event));
}, { passive: false });
const fingers = new Map();
picture.addEventListener("pointerdown", (event) => { fingers.set(event.pointerId, spot(event)); picture.setPointerCapture(event.pointerId); });
for (const end of ["pointerup", "pointercancel"]) picture.addEventListener(end, (event) => fingers.delete(event.pointerId));
picture.addEventListener("pointermove", (event) => {
  const [x, y] = spot(event);
  if (state.view) byId("where").textContent = `${x.toFixed(3)}, ${(state.view.size_mm[1] - y).toFixed(3)} mm from the lower left corner`;
  const from = fingers.get(event.pointerId);
  if (!from || !state.box) return;
  if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(from[0] - other[0], from[1] - other[1]), now = Math.hypot(x - other[0], y - other[1]);
    if (before > 0 && now > 0) enlarge(before / now, ...other);
    return;
  }
  state.box = [state.box[0] - (x - from[0]), state.box[1] - (y - from[1]), state.box[2], state.box[3]];
  draw();
});
picture.addEventListener("keydown", (event) => {
  if (!state.box) return;
  const step = state.box[2] / 10, [x, y, w, h] = state.box;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  if (moves[event.key]) { state.box = [x + moves[event.key][0], y + moves[event.key][1], w, h]; draw(); }
  else if (event.key === "+" || event.key === "=") enlarge(1 / 1.25, x + w / 2, y + h / 2);
  else if (event.key === "-") enlarge(1.25, x + w / 2, y + h / 2);
  else if (event.key === "0") { whole(); draw(); }
  else return;
  event.preventDefault();
});
for (const one of document.querySelectorAll("input[name=way], #drawn")) one.addEventListener("change", () => draw());

// --- the way out --------------------------------------------------------------------------------
byId("plan").addEventListener("click", guarded(async () => {
  byId("stop").hidden = false; byId("plan").disabled = true;
  const told = new EventSource(at("/progress"));
  told.onmessage = (event) => { byId("progress").textContent = JSON.parse(event.data); };
  told.addEventListener("end", () => told.close());
  try {
    const made = await ask(at("/plan"), {});
    if (made.superseded) byId("progress").textContent = "stopped; nothing was written";
    else if (made.mistakes) byId("progress").textContent = made.mistakes.map((one) => `${one.field} ${one.message}`).join("; ");
    else { show(made.view); byId("progress").textContent = made.view.headline; }
  } finally {
    told.close(); byId("stop").hidden = true; byId("plan").disabled = false;
    await listFiles();
  }
}));
byId("stop").addEventListener("click", guarded(() => ask(at("/stop"), {})));
async function listFiles() {
  const { files } = await ask(at("/files"));
  byId("files").replaceChildren(...files.map((name) => {
    const line = document.createElement("li"), link = document.createElement("a");
    link.href = at(`/file/${encodeURIComponent(name)}`); link.textContent = name; link.download = name;
    line.append(link);
    return line;
  }));
}
byId("upload").addEventListener("change", guarded(async () => {
  const file = byId("upload").files[0];
  if (!file) return;
  const send = async (replace) => {
    const form = new FormData();
    form.append("replace", replace); form.append("file", file);
    return fetch(at("/upload"), { method: "POST", body: form });
  };
  let answer = await send("no");
  if (answer.status === 409 && window.confirm(`${file.name} is there already. Replace it?`)) answer = await send("yes");
  const told = await answer.json();
  if (!answer.ok) { say(told.error ?? "not replaced"); return; }
  say(`${told.name} lies beside the job now`);
  await draft();
}));
byId("new").addEventListener("submit", guarded(async (event) => {
  event.preventDefault();
  const { job } = await ask("/api/new", { name: byId("new-name").value, kind: byId("new-kind").value });
  state.job = job;
  await listJobs();
  await open(job);
}));
byId("job").addEventListener("change", guarded(() => open(byId("job").value)));

guarded(async () => {
  state.sections = (await ask("/api/sections")).sections;
  await listJobs();
})();
