// The picture of the piece: which shapes it shows, before and after, and which part of the plane.
import { byId, tell, when } from "./asking.js";

// The smallest width that is shown, in mm: a micrometre is then some 30 pixels wide.
const LEAST = 0.02;
let view = null, box = null, shapes = {}, isHeld = false;
export const shownView = () => view;
export const shownBox = () => box;
export const way = () => document.querySelector("input[name=way]:checked").value;
export const held = () => Object.keys(shapes);
// Of a piece worked on its back the picture as seen is the mirror of all others.
const isTurned = () => way() === "seen" && view.back;
export const asWorked = ([x, y]) => [isTurned() ? view.size_mm[0] - x : x, view.size_mm[1] - y];
export const onPicture = ([x, y]) => [isTurned() ? view.size_mm[0] - x : x, view.size_mm[1] - y];

// A first look has no findings of its own, and does not know every way.
export function showGlimpse(made) {
  // What the draft that follows need not send again is kept until then.
  showView({ ...made, headline: view?.headline ?? "", findings: view?.findings ?? [], ways: { ...view?.ways, ...made.ways } }, shapes);
}
export function showView(made, kept = {}) {
  // A sign is for its reader; of a plate the finished face is what one holds in the hand.
  if (!view) document.querySelector(`input[name=way][value=${made.back ? "seen" : "finished"}]`).checked = true;
  const isSame = view && String(view.size_mm) === String(made.size_mm);
  const told = { ...shapes, ...made.shapes };
  view = made;
  // Only what is shown is kept: the server sends again what is not.
  const names = Object.values(view.ways).flatMap(({ after, before }) => [...after, ...before]).map((one) => one.shape);
  shapes = { ...kept, ...Object.fromEntries(names.map((name) => [name, told[name]])) };
  if (!isSame || !box) whole();
  paint();
  frame();
}
when("open", () => { view = box = null; shapes = {}; paint(); });

const svg = (tag) => document.createElementNS("http://www.w3.org/2000/svg", tag);
// Only what differs is touched: a path that stays is not laid out again.
function layers(group, wanted) {
  while (group.children.length > wanted.length) group.lastChild.remove();
  for (const [k, { shape, fill, kind }] of wanted.entries()) {
    const path = group.children[k] ?? group.appendChild(svg("path"));
    if (path.shape !== shape) { path.setAttribute("d", shapes[shape]); path.shape = shape; }
    path.setAttribute("class", kind ?? "");
    if (fill) path.setAttribute("fill", fill); else path.removeAttribute("fill");
    path.setAttribute("fill-rule", "evenodd");
    path.setAttribute("transform", "scale(.001)");
  }
}
export function paint() {
  const { after, before } = view?.ways[way()] ?? { after: [], before: [] };
  layers(byId("after"), after);
  layers(byId("before"), before);
  byId("view").setAttribute("aria-label", view ? `The piece, ${way()}: ${view.headline}` : "The piece");
}
// Show the part of the plane that the box tells; the rest of what depends on it follows.
export function frame() {
  if (!box) return;
  byId("view").setAttribute("viewBox", box.join(" "));
  split();
  tell("framed");
}
// Left of the line as drawn: the line stands where the slider does, across the whole of the picture.
export function splitAt() { return isHeld ? 100 : Number(byId("share").value); }
function split() {
  const [x, y, w, h] = visible();
  const rim = byId("left-of");
  for (const [name, value] of Object.entries({ x: x - w, y: y - h, width: w + (w * splitAt()) / 100, height: 3 * h })) rim.setAttribute(name, value);
  byId("before").style.display = splitAt() > 0 ? "" : "none";
}
export function compare(holds) { isHeld = holds; split(); tell("framed"); }
// What of the plane is visible: the picture is as a rule wider or higher than the box.
export function visible() {
  const { clientWidth: w, clientHeight: h } = byId("view"), [x, y, bw, bh] = box ?? [0, 0, 1, 1];
  const scale = Math.min(w / bw, h / bh) || 1;
  return [x + bw / 2 - w / scale / 2, y + bh / 2 - h / scale / 2, w / scale, h / scale, scale];
}
export function whole() {
  const [wide, high] = view.size_mm, rim = Math.max(wide, high) / 30;
  box = [-rim, -rim, wide + 2 * rim, high + 2 * rim];
}
export function showBox(to) { box = to; frame(); }
export function enlarge(by, x, y) {
  if (!box) return;
  const [x0, y0, w, h] = box;
  const k = Math.max(by, LEAST / w);
  if (w * k > 4 * Math.max(...view.size_mm)) return;
  showBox([x - (x - x0) * k, y - (y - y0) * k, w * k, h * k]);
}
export function lookAt([x, y], wide) {
  const w = wide ?? box[2], h = wide === undefined ? box[3] : wide;
  showBox([x - w / 2, y - h / 2, w, h]);
}
// Where on the picture's plane an event happened.
export function spot(event) {
  const rim = byId("view").getBoundingClientRect(), [x, y, , , scale] = visible();
  return [x + (event.clientX - rim.left - byId("view").clientLeft) / scale, y + (event.clientY - rim.top - byId("view").clientTop) / scale];
}

for (const one of document.querySelectorAll("input[name=way]")) one.addEventListener("change", () => { paint(); frame(); tell("way"); });
byId("share").addEventListener("input", () => compare(false));
new ResizeObserver(() => frame()).observe(byId("view"));
