// The findings: what to act on first, each with its place; and those near a place.
import { byId } from "./asking.js";
import { putCursor } from "./cursor.js";
import { lookAt, onPicture, shownView, visible } from "./picture.js";

// So far round its place a finding is shown, in mm.
const ROUND = 5;
export function listFindings(view) {
  const lines = view.findings.map((one, k) => [one, line(one, k)]);
  byId("findings").replaceChildren(...lines.filter(([one]) => one.first).map(([, made]) => made));
  const more = lines.filter(([one]) => !one.first).map(([, made]) => made);
  byId("more-findings").replaceChildren(...more);
  byId("further").hidden = !more.length;
  byId("further").querySelector("summary").textContent = `${more.length} further, to know of`;
  byId("near").textContent = view.findings.length ? "" : "Nothing to say.";
}
function line(one, k) {
  const made = document.createElement("li");
  made.value = k + 1;
  made.className = one.level;
  const words = document.createElement("span");
  words.textContent = one.brief;
  made.append(words);
  if (one.places.length) {
    let next = 0;
    const go = document.createElement("button");
    go.type = "button";
    go.textContent = one.places.length > 1 ? `Show place 1 of ${one.places.length}` : "Show the place";
    go.addEventListener("click", () => {
      goTo(one.places[next]);
      next = (next + 1) % one.places.length;
      if (one.places.length > 1) go.textContent = `Show place ${next + 1} of ${one.places.length}`;
    });
    made.append(go);
  }
  if (one.text !== one.brief) {
    const rest = document.createElement("details"), title = document.createElement("summary"), all = document.createElement("p");
    title.textContent = "In full"; all.textContent = one.text;
    rest.append(title, all);
    made.append(rest);
  }
  return made;
}
export function goTo(at) {
  putCursor(at, true);
  lookAt(onPicture(at), ROUND);
  byId("view").scrollIntoView({ block: "nearest" });
}
// Mark the findings that have a place near here; say so.
export function tellNear([x, y]) {
  const view = shownView(), round = 18 / visible()[4];
  const near = view.findings.map((one) => one.places.some((at) => Math.hypot(at[0] - x, at[1] - y) <= round));
  let first = null;
  for (const line of document.querySelectorAll("#findings > li, #more-findings > li")) {
    const isNear = near[line.value - 1];
    line.classList.toggle("near", isNear);
    if (isNear) { first ??= line; if (line.closest("details")) byId("further").open = true; }
  }
  first?.scrollIntoView({ block: "nearest" });
  const count = near.filter(Boolean).length;
  byId("near").textContent = count ? `At this place: ${near.flatMap((is, k) => (is ? [k + 1] : [])).join(", ")}` : "No finding has its place here.";
}
