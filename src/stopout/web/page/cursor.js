// The place that is read: where it is, and what is drawn and predicted there.
import { ask, at, byId, tell, when } from "./asking.js";
import { shownView } from "./picture.js";

let here = null, isAsking = false, isDue = false, speaks = 0;
// As worked, in mm from the lower left corner.
export const place = () => here;
export function putCursor(to, isSpoken) {
  here = to.map((one) => Math.round(one * 1e4) / 1e4);
  byId("at-place").textContent = `${here[0].toFixed(3)}, ${here[1].toFixed(3)} mm`;
  tell("place", here);
  clearTimeout(speaks);
  if (isSpoken) speaks = setTimeout(speak, 500);
  read();
}
when("open", () => { here = null; clear(); });
when("drawn", () => { if (here && shownView()) read(); });

// One question at a time, always of the newest place.
async function read() {
  isDue = true;
  if (isAsking) return;
  isAsking = true;
  try {
    while (isDue && here && shownView()) {
      isDue = false;
      const [x, y] = here;
      const told = await ask(at("/at"), { at: [x, y] });
      if (!isDue) show(told);
    }
  } catch { clear(); } finally { isAsking = false; }
}
function show(told) {
  if (told.none) return;
  if (!told.on) { clear("off the blank"); return; }
  const width = (mm) => `${mm.toFixed(2)} mm`;
  byId("at-drawn").textContent = `${told.drawn}${told.drawn_mm === null ? "" : `, ${width(told.drawn_mm)} wide`}`;
  byId("at-made").textContent = `${told.made}${told.made_mm === null ? "" : `, ${width(told.made_mm)} (${told.low_mm.toFixed(2)} to ${told.high_mm.toFixed(2)})`}`;
  const by = told.made_mm === null || told.drawn_mm === null ? null : told.made_mm - told.drawn_mm;
  byId("at-differs").textContent = told.drawn !== told.made ? "made otherwise than drawn" : by === null ? "–" : Math.abs(by) < 0.005 ? "less than 0.01 mm" : `${by > 0 ? "+" : "−"}${width(Math.abs(by))}`;
}
function clear(words = "–") {
  byId("at-drawn").textContent = words;
  for (const id of ["at-made", "at-differs"]) byId(id).textContent = "–";
}
function speak() {
  byId("read-out").textContent = `At ${byId("at-place").textContent}: drawn ${byId("at-drawn").textContent}; predicted ${byId("at-made").textContent}; differs by ${byId("at-differs").textContent}`;
}
