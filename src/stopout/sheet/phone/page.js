// ---- ticks and values
function fill() {
  all("[data-keep]").forEach((input) => {
    const name = input.dataset.keep;
    if (input.type === "checkbox") {
      input.addEventListener("change", () => {
        change((kept) => {
          if (input.checked) kept.ticks[name] = new Date().toISOString(); else delete kept.ticks[name];
          const step = input.closest(".step");
          if (step) kept.log.push({ what: titleOf(step), word: input.checked ? "done" : "taken back", at: Date.now() });
        });
        progress(); showSums();
      });
    } else {
      input.addEventListener("input", () => {
        change((kept) => { if (input.value) kept.values[name] = input.value; else delete kept.values[name]; });
        progress(); showSums();
      });
    }
  });
  refill();
}
function refill() {
  all("[data-keep]").forEach((input) => {
    const name = input.dataset.keep;
    if (input.type === "checkbox") input.checked = Boolean(state.ticks[name]);
    else if (input !== document.activeElement || !input.value) input.value = state.values[name] || "";
  });
}
const titleOf = (step) => "step " + step.dataset.step + ": " + step.querySelector("h3").lastChild.textContent.trim();
const doneBox = (step) => step.querySelector(":scope > .tick input");

// ---- one step at a time
const units = all(".unit[data-screen]");
const most = Math.max(0, ...units.map((unit) => Number(unit.dataset.screen)));
const onScreen = (at) => units.filter((unit) => Number(unit.dataset.screen) === at);
const stepsOn = (at) => onScreen(at).flatMap((unit) => all(".step", unit));
const needsTick = (step) => !("optional" in step.dataset);
let at = 1, walking = true;

function isHeld(unit) {
  const hold = unit.querySelector(".hold");
  return Boolean(hold) && !(all("input[type=checkbox]", hold).every((tick) => tick.checked) &&
    all("input[type=text]", hold).every((input) => input.value.trim()));
}
function isDone(unit) {
  return !isHeld(unit) && all(".step", unit).filter(needsTick).every((step) => doneBox(step).checked);
}
function progress() {
  const worked = units.filter((unit) => unit.querySelector(".step, .hold"));
  worked.forEach((unit) => unit.classList.toggle("done", isDone(unit)));
  put(byId("progress"), worked.filter(isDone).length + " of " + worked.length + " steps and holds done");
  const here = onScreen(at);
  byId("next").disabled = here.some(isHeld);
  const steps = stepsOn(at), hold = here.some((unit) => unit.querySelector(".hold"));
  const waits = here.some((unit) => unit.querySelector(".board")) && !steps.filter(needsTick).every((step) => doneBox(step).checked);
  put(byId("next"), at === most ? "Whole sheet" : hold ? "Signed, next" : waits || !steps.length ? "Next" : "Done, next");
  const isAllDone = steps.length > 0 && steps.filter(needsTick).every((step) => doneBox(step).checked);
  byId("again").hidden = !isAllDone;
  byId("skip").hidden = !steps.length || isAllDone || hold;
  byId("more").hidden = !walking || (byId("again").hidden && byId("skip").hidden);
}
function show() {
  body.classList.toggle("walking", walking);
  byId("walk").hidden = !walking;
  put(byId("view"), walking ? "Whole sheet" : "One step at a time");
  byId("view").setAttribute("aria-pressed", String(walking));
  all(".here").forEach((element) => element.classList.remove("here"));
  at = Math.min(Math.max(at, 1), most);
  if (walking) {
    onScreen(at).forEach((unit) => {
      const section = unit.closest("section");
      [unit, section, section.querySelector("h2")].forEach((element) => element.classList.add("here"));
    });
    put(byId("place"), at + " of " + most);
    byId("back").disabled = at === 1;
  }
  progress();
}
// Where one is belongs to the tab; the phone's own way back goes from screen to screen.
function remember() {
  try { sessionStorage.setItem(key, JSON.stringify({ at, walking })); } catch (error) { /* then not */ }
  change((kept) => { kept.at = at; kept.walking = walking; });
}
function recall() {
  let place = null;
  try { place = JSON.parse(sessionStorage.getItem(key)); } catch (error) { place = null; }
  at = (place || state).at; walking = (place || state).walking;
}
function visit(place, isNew) {
  at = place.at; walking = place.walking;
  if (isNew) { try { history.pushState(place, ""); } catch (error) { /* then the buttons alone */ } }
  remember(); show();
  window.scrollTo(0, 0);
  const unit = walking && onScreen(at)[0];
  if (unit) unit.closest("section").querySelector("h2").focus({ preventScroll: true });
}
function go(to) { visit({ at: to, walking: true }, true); }
function next() {
  const steps = stepsOn(at);
  // What the clocks have not seen done is not ticked by leaving the screen.
  const waits = onScreen(at).some((unit) => unit.querySelector(".board"));
  if (!waits) {
    steps.filter(needsTick).map(doneBox).filter((box) => !box.checked).forEach((box) => {
      box.checked = true; box.dispatchEvent(new Event("change"));
    });
  }
  if (at < most) go(at + 1); else visit({ at, walking: false }, true);
}
function again() {
  change((kept) => {
    stepsOn(at).forEach((step) => {
      if (!doneBox(step).checked) return;
      kept.log.push({ what: titleOf(step), word: "again", at: Date.now() });
      delete kept.ticks[doneBox(step).dataset.keep];
    });
  });
  refill(); show();
}
function skip() {
  change((kept) => {
    stepsOn(at).filter((step) => needsTick(step) && !doneBox(step).checked)
      .forEach((step) => kept.log.push({ what: titleOf(step), word: "skipped", at: Date.now() }));
  });
  if (at < most) go(at + 1);
}

// ---- saving: one file, the same form as stopout shop record asks for
const slug = (text) => text.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "job";
const round = (value) => Number(value.toPrecision(6));
const iso = (stamp) => new Date(stamp).toISOString();
function today() {
  const day = new Date(), two = (n) => String(n).padStart(2, "0");
  return day.getFullYear() + "-" + two(day.getMonth() + 1) + "-" + two(day.getDate());
}
function faults() {
  const wrong = [];
  all("input[data-keep]").filter((input) => /^(lane|piece|result|coupon)/.test(input.dataset.keep) &&
    input.inputMode === "decimal" && input.value.trim()).forEach((input) => {
    const value = numberOf(input.value);
    if (!(value > 0)) wrong.push(input.dataset.of + ": a number above zero is due, such as 58 or 58,5");
  });
  pieces.forEach((piece) => {
    const loss = lossOf(piece);
    if (loss && loss.loss < 0) wrong.push("piece " + piece + " weighs more after the etch than before it");
  });
  return wrong;
}
function rows() {
  return pieces.map((piece) => {
    const row = { piece }, depths = depthsOf(piece), seconds = secondsOf(piece);
    const before = typed("piece." + piece + ".before"), after = typed("piece." + piece + ".after");
    if (depths.length) row.depth_mm = depths.map((depth) => round(depth / 1000));
    if (seconds) row.time_s = round(seconds);
    if (before) row.before_g = before;
    if (after) row.after_g = after;
    if (state.ticks["piece." + piece + ".good"]) row.is_good = true;
    return row;
  });
}
function couponRow() {
  const row = {}, depths = couponDepths(), seconds = couponSeconds();
  if (depths.length) row.depth_mm = depths.map((depth) => round(depth / 1000));
  if (seconds) row.time_s = round(seconds);
  if (typed("coupon-stroke.0")) row.in_resist_mm = typed("coupon-stroke.0");
  if (typed("coupon-stroke.1")) row.in_metal_mm = typed("coupon-stroke.1");
  return Object.keys(row).length ? row : null;
}
function work() {
  const holds = all(".hold input[type=checkbox]").filter((input) => input.checked).map((input) => ({
    what: "hold " + input.closest(".hold").dataset.hold + ": " + input.parentElement.textContent.trim(),
    word: "checked", at: state.ticks[input.dataset.keep] || "" }));
  const clocks = lanes.flatMap((lane, k) => eventsOf(k).map((event) => ({ what: lane.name, word: saidOf(k, event), at: iso(event.at) })))
    .concat(timers.flatMap((element) => timerOf(element).log.map((entry) => ({ what: element.dataset.name, word: entry.word, at: iso(entry.at) }))));
  const values = all("input[type=text][data-keep]").filter((input) => input.value.trim())
    .map((input) => ({ what: input.dataset.of, value: input.value.trim() }));
  return { sheet: body.dataset.key, saved: new Date().toISOString(),
           steps: state.log.map((entry) => ({ what: entry.what, word: entry.word, at: iso(entry.at) })).concat(holds), clocks, values };
}
// What tells this working from another of the same plan: saved anew, a record takes its own place.
function recordId() {
  if (!state.record) {
    const some = window.crypto.getRandomValues(new Uint8Array(8));
    change((kept) => { kept.record = kept.record || Array.from(some, (n) => n.toString(16).padStart(2, "0")).join(""); });
  }
  return state.record;
}
function record() {
  const content = { format: "stopout-record-2", date: today(), record_id: recordId() };
  if (!bench) return Object.assign(content, { name: body.dataset.job, revision: body.dataset.revision, pieces: [], work: work() });
  bench.known.forEach((pair) => { content[pair[0]] = pair[1]; });
  const seen = readings(lanes.map((lane, k) => "lane." + k + ".bath"));
  if (seen.length) content.temperature_degc = round(mean(seen));
  if (typed("result.temperature_degc")) content.temperature_degc = typed("result.temperature_degc");
  if (typed("result.undercut_um")) content.undercut_mm = round(typed("result.undercut_um") / 1000);
  ["bath", "note"].forEach((name) => { if ((state.values["result." + name] || "").trim()) content[name] = state.values["result." + name].trim(); });
  content.pieces = rows();
  if (couponRow()) content.coupon = couponRow();
  return Object.assign(content, { work: work() });
}
function save() {
  const wrong = faults();
  if (wrong.length) { byId("said").textContent = "Nothing was saved. " + wrong.join("; "); byId("said").scrollIntoView({ block: "center" }); return; }
  const name = slug(body.dataset.job) + "-record.json", content = record();
  const text = JSON.stringify(content, null, 2) + "\n";
  byId("text").value = text;
  const isWhole = content.pieces.some((row) => row.depth_mm && row.time_s);
  const lacks = bench && !isWhole ? " The shop book still needs the depth and the time in the bath of one piece." : "";
  // A page that comes from the bench sends the record there; only a page that is a file saves one.
  if (!document.dispatchEvent(new CustomEvent("record", { detail: { content, lacks }, cancelable: true }))) {
    byId("said").scrollIntoView({ block: "center" });
    return;
  }
  byId("text").hidden = false; byId("text-label").hidden = false;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  link.download = name;
  link.click();
  window.setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  byId("said").textContent = "Saved as " + name + ". " + (!bench ? "Nothing was etched: keep it with the job."
    : isWhole ? "For the shop book: stopout shop record " + name : lacks.trim());
  byId("said").scrollIntoView({ block: "center" });
}

// ---- light and dark
function paint() {
  if (state.theme) document.documentElement.dataset.theme = state.theme;
  const dark = state.theme ? state.theme === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
  byId("theme").textContent = dark ? "Light" : "Dark";
  return dark;
}

if (byId("view")) { // a sheet that says STOP has nothing to keep
  load(); recall(); fill(); paint(); show(); tick();
  try { history.replaceState({ at, walking }, ""); } catch (error) { /* then the buttons alone */ }
  window.setInterval(tick, 500);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) tick(); });
  window.addEventListener("popstate", (event) => { if (event.state) visit(event.state, false); });
  window.addEventListener("storage", (event) => {
    if (event.key !== key) return;
    state = read() || state;
    refill(); progress(); tick();
  });
  byId("view").addEventListener("click", () => visit({ at, walking: !walking }, true));
  byId("theme").addEventListener("click", () => { const to = paint() ? "light" : "dark"; change((kept) => { kept.theme = to; }); paint(); });
  byId("back").addEventListener("click", () => go(at - 1));
  byId("next").addEventListener("click", next);
  byId("again").addEventListener("click", again);
  byId("skip").addEventListener("click", skip);
  all(".save").forEach((button) => button.addEventListener("click", save));
  byId("clear").addEventListener("click", () => {
    if (!window.confirm("Clear all ticks, values and clocks of this sheet?")) return;
    const theme = state.theme;
    change((kept) => { Object.assign(kept, fresh(), { theme }); });
    try { sessionStorage.removeItem(key); } catch (error) { /* then not */ }
    window.location.reload();
  });
  // One entry of the history, so that one way back leads to the step.
  all('a[href="#emergency"]').forEach((link) => link.addEventListener("click", (event) => {
    event.preventDefault();
    if (walking) visit({ at, walking: false }, true);
    byId("emergency").scrollIntoView();
    byId("emergency-title").focus({ preventScroll: true });
  }));
}
