// Each text of the job file is drafted; a newer one ends the older draft.
import { ask, at, byId, guarded, tell, when } from "./asking.js";
import { listFindings } from "./findings.js";
import { held, showView, shownView } from "./picture.js";

let latest = 0;
when("text", guarded(draft));

async function draft() {
  const number = ++latest;
  byId("view").setAttribute("aria-busy", "true");
  const told = await ask(at("/draft"), { has: held() });
  if (number !== latest || told.superseded) return;
  byId("view").removeAttribute("aria-busy");
  if (told.mistakes) cannot(told.mistakes);
  else show(told.view);
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
}
// Show what a draft or a plan has made: the piece, the verdict and the findings.
export function show(view) {
  headline(view.headline, view.state, view.draft);
  showView(view);
  listFindings(view);
  drawn(view);
}
// Count what has been drawn: who waits for a drawing waits for this.
function drawn(view) {
  const page = document.documentElement;
  page.dataset.drawn = String(Number(page.dataset.drawn ?? 0) + 1);
  tell("drawn", view);
}
