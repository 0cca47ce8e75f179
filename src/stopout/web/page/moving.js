// Wheel, fingers and keys: the picture moved and enlarged, the cross put to a place.
import { byId } from "./asking.js";
import { place, putCursor } from "./cursor.js";
import { tellNear } from "./findings.js";
import { asWorked, compare, enlarge, frame, lookAt, onPicture, showBox, shownBox, shownView, spot, visible, whole } from "./picture.js";

const picture = byId("view");
// Fingers that move less than this touch a place; others move the picture.
const STILL_PX = 6;
picture.addEventListener("wheel", (event) => {
  event.preventDefault();
  enlarge(event.deltaY > 0 ? 1.2 : 1 / 1.2, ...spot(event));
}, { passive: false });

const fingers = new Map();
let strayed = 0;
picture.addEventListener("pointerdown", (event) => {
  if (!fingers.size) strayed = 0;
  fingers.set(event.pointerId, [event.clientX, event.clientY]);
  picture.setPointerCapture(event.pointerId);
});
picture.addEventListener("pointercancel", (event) => fingers.delete(event.pointerId));
picture.addEventListener("pointerup", (event) => {
  if (!fingers.delete(event.pointerId) || fingers.size || strayed > STILL_PX || !shownView()) return;
  putCursor(asWorked(spot(event)));
  tellNear(place());
});
picture.addEventListener("pointermove", (event) => {
  if (!shownBox()) return;
  const from = fingers.get(event.pointerId);
  if (!from) { if (event.pointerType === "mouse") putCursor(asWorked(spot(event))); return; }
  const to = [event.clientX, event.clientY], scale = visible()[4];
  if (fingers.size === 2) {
    const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
    const before = Math.hypot(from[0] - other[0], from[1] - other[1]), now = Math.hypot(to[0] - other[0], to[1] - other[1]);
    if (before > 0 && now > 0) enlarge(before / now, ...spot({ clientX: other[0], clientY: other[1] }));
    strayed = Infinity;
  } else {
    strayed += Math.hypot(to[0] - from[0], to[1] - from[1]);
    if (strayed <= STILL_PX) return;
    const [x, y, w, h] = shownBox();
    showBox([x - (to[0] - from[0]) / scale, y - (to[1] - from[1]) / scale, w, h]);
  }
  fingers.set(event.pointerId, to);
});

const middle = () => { const [x, y, w, h] = shownBox(); return [x + w / 2, y + h / 2]; };
const about = () => (place() ? onPicture(place()) : middle());
const zoom = (by) => { if (shownBox()) enlarge(by, ...about()); };
const all = () => { if (shownView()) { whole(); frame(); } };
// The cross goes a hundredth of what is visible, with Shift a tenth; the picture follows it.
function step(dx, dy, isLong) {
  const [x0, y0, w, h] = visible(), by = Math.min(w, h) * (isLong ? 0.1 : 0.01);
  const [x, y] = about(), to = [x + dx * by, y + dy * by];
  putCursor(asWorked(to), true);
  if (to[0] < x0 || to[0] > x0 + w || to[1] < y0 || to[1] > y0 + h) lookAt(to);
}
const KEYS = {
  ArrowLeft: (l) => step(-1, 0, l), ArrowRight: (l) => step(1, 0, l), ArrowUp: (l) => step(0, -1, l), ArrowDown: (l) => step(0, 1, l),
  "+": () => zoom(1 / 1.25), "=": () => zoom(1 / 1.25), "-": () => zoom(1.25), 0: all,
  Enter: () => { if (place()) tellNear(place()); },
};
picture.addEventListener("keydown", (event) => {
  if (!shownBox() || !KEYS[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
  KEYS[event.key](event.shiftKey);
  event.preventDefault();
});
byId("nearer").addEventListener("click", () => zoom(1 / 1.5));
byId("farther").addEventListener("click", () => zoom(1.5));
byId("whole").addEventListener("click", all);
byId("centre").addEventListener("click", () => { if (place()) lookAt(onPicture(place())); });

const hold = byId("hold");
for (const [what, holds] of [["pointerdown", true], ["pointerup", false], ["pointerleave", false], ["blur", false]]) hold.addEventListener(what, () => compare(holds));
for (const [what, holds] of [["keydown", true], ["keyup", false]]) hold.addEventListener(what, (event) => { if (event.key === " " || event.key === "Enter") { compare(holds); event.preventDefault(); } });
