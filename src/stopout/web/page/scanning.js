// Scans dropped in: held against the plan or read as a coupon, with what they show.
import { ask, at, byId, guarded, now, tell, when } from "./asking.js";
import { goTo } from "./findings.js";
import { shownView } from "./picture.js";

const form = byId("scan-form"), said = byId("scan-said"), drop = document.querySelector(".drop");
let isReading = false;

async function list() {
  const job = now.job;
  const { scans, coupons, can_inspect: canInspect, is_reading: isAtIt } = await ask(at("/scans"));
  if (job !== now.job) return;
  const what = byId("scan-what"), before = what.value;
  what.replaceChildren(
    ...(canInspect ? [new Option("The piece, against its plan", "inspect")] : []),
    ...coupons.map((name) => new Option(`The coupon ${name}`, `read ${name}`)));
  if ([...what.options].some((one) => one.value === before)) what.value = before;
  form.hidden = !what.options.length;
  byId("scan-none").hidden = Boolean(what.options.length);
  byId("scan-stop").hidden = !isAtIt && !isReading;
  byId("scan-list").replaceChildren(...scans.map((one, k) => shown(one, k === 0)));
  choose();
}
function choose() {
  const isPiece = byId("scan-what").value === "inspect";
  for (const one of document.querySelectorAll(".of-inspect")) one.hidden = !isPiece;
  for (const one of document.querySelectorAll(".of-read")) one.hidden = isPiece;
}
// One scan with its words and its picture; a fault goes to its place on the piece.
function shown(one, isOpen) {
  const box = document.createElement("details"), title = document.createElement("summary");
  box.open = isOpen;
  title.textContent = `${one.scan}: ${one.what === "inspect" ? "the piece" : "a coupon"}`;
  const words = document.createElement("pre");
  for (const line of [...(one.cautions ?? []).map((words) => `caution: ${words}.`), ...one.words]) {
    const fault = /^\s+(\d+)\s\s/.exec(line), place = fault && one.faults?.[fault[1] - 1]?.at_mm;
    words.append(place ? faultOf(line, place) : line, "\n");
  }
  if (one.kept) words.append(`kept as entry ${one.kept.id} of the shop book\n`);
  const picture = document.createElement("img");
  picture.loading = "lazy";
  picture.src = at(`/scan/${encodeURIComponent(one.picture)}`);
  picture.alt = one.what === "inspect" ? "The scan with its faults" : "The fit of the coupon's numbers";
  box.append(title, words, picture);
  return box;
}
function faultOf(line, place) {
  const go = document.createElement("button");
  go.type = "button"; go.className = "fault"; go.textContent = line;
  go.addEventListener("click", () => { if (shownView()) goTo(place); });
  return go;
}
async function read(file) {
  const [what, ...coupon] = byId("scan-what").value.split(" ");
  const sent = new FormData(form);
  sent.set("what", what); sent.set("coupon", coupon.join(" ")); sent.set("file", file);
  isReading = true;
  byId("scan-go").disabled = true; byId("scan-stop").hidden = false;
  const begun = Date.now();
  const clock = window.setInterval(() => { said.textContent = `Reading ${file.name}: ${Math.round((Date.now() - begun) / 1000)} s so far`; }, 1000);
  said.textContent = `Reading ${file.name}`;
  const job = now.job;
  try {
    const answer = await fetch(at("/scan"), { method: "POST", body: sent });
    const told = await answer.json().catch(() => ({ error: `no answer (${answer.status})` }));
    said.textContent = told.error ?? (told.stopped ? "Stopped; nothing of it was kept." : `${told.scan} is read.`);
    if (told.kept) tell("recorded");
  } catch {
    said.textContent = "No connection to the bench; nothing was read.";
  } finally {
    window.clearInterval(clock);
    isReading = false;
    byId("scan-go").disabled = false; byId("scan-stop").hidden = true;
    if (job === now.job) await list();
  }
}
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const file = byId("scan-file").files[0];
  if (file && !isReading) guarded(read)(file);
});
byId("scan-what").addEventListener("change", choose);
byId("scan-stop").addEventListener("click", guarded(() => ask(at("/stop-reading"), {})));
for (const [name, is] of [["dragover", true], ["dragleave", false], ["drop", false]]) {
  drop.addEventListener(name, (event) => { event.preventDefault(); drop.classList.toggle("over", is); });
}
drop.addEventListener("drop", (event) => {
  if (event.dataTransfer.files.length && !isReading) guarded(read)(event.dataTransfer.files[0]);
});
when("open", guarded(async () => { said.textContent = ""; await list(); }));
when("planned", guarded(list));
