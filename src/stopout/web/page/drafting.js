// Each text of the job file is drafted; a newer one ends the older draft.
import { at, byId, guarded, lines, tell, when } from "./asking.js";
import { listFindings } from "./findings.js";
import { held, showGlimpse, showView, shownView } from "./picture.js";

let latest = 0;
when("text", guarded(draft));

async function draft() {
  const number = ++latest;
  byId("view").setAttribute("aria-busy", "true");
  for await (const told of lines(at("/draft"), { has: held() })) {
    if (number !== latest || told.superseded) return;
    if (told.glimpse) { look(told.glimpse); continue; }
    byId("view").removeAttribute("aria-busy");
    if (told.mistakes) cannot(told.mistakes);
    else show(told.view);
  }
}
// The first look shows the piece; the verdict and the findings are still those of before.
function look(glimpse) {
  showGlimpse(glimpse);
  byId("is-draft").hidden = false;
  byId("is-draft").textContent = "first look; findings follow";
  count("looked");
}
function cannot(mistakes) {
  const still = shownView() ? " (the piece is shown as it was)" : "";
  headline(`Cannot be planned${still}: ${mistakes.map((one) => `${one.field} ${one.message}`).join("; ")}`, "stopped", false);
  drawn();
}
function headline(words, state, isDraft) {
  byId("headline").textContent = words.replace(/^DRAFT: /, "");
  byId("verdict").className = state;
  byId("is-draft").hidden = !isDraft;
  byId("is-draft").textContent = "draft";
}
// Show what a draft or a plan has made: the piece, the verdict and the findings.
export function show(view) {
  headline(view.headline, view.state, view.draft);
  showView(view);
  listFindings(view);
  drawn(view);
}
// Count what has been drawn: who waits for a drawing waits for this.
function count(what) {
  const page = document.documentElement;
  page.dataset[what] = String(Number(page.dataset[what] ?? 0) + 1);
}
function drawn(view) {
  count("drawn");
  tell("drawn", view);
}
