// Wheel, fingers and keys: the picture moved and enlarged, and the place below the pointer.
import { byId } from "./asking.js";
import { draw, enlarge, showBox, shownBox, shownView, spot, whole } from "./picture.js";

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
  if (shownView()) byId("where").textContent = `${x.toFixed(3)}, ${(shownView().size_mm[1] - y).toFixed(3)} mm from the lower left corner`;
  const from = fingers.get(event.pointerId);
  const box = shownBox();
  if (!from || !box) return;
  if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(from[0] - other[0], from[1] - other[1]), now = Math.hypot(x - other[0], y - other[1]);
    if (before > 0 && now > 0) enlarge(before / now, ...other);
    return;
  }
  showBox([box[0] - (x - from[0]), box[1] - (y - from[1]), box[2], box[3]]);
});
picture.addEventListener("keydown", (event) => {
  if (!shownBox()) return;
  const [x, y, w, h] = shownBox(), step = w / 10;
  const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
  if (moves[event.key]) showBox([x + moves[event.key][0], y + moves[event.key][1], w, h]);
  else if (event.key === "+" || event.key === "=") enlarge(1 / 1.25, x + w / 2, y + h / 2);
  else if (event.key === "-") enlarge(1.25, x + w / 2, y + h / 2);
  else if (event.key === "0") { whole(); draw(); }
  else return;
  event.preventDefault();
});
