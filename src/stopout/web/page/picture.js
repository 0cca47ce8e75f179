// The picture of the piece: which shapes it shows, and which part of the plane.
import { byId, when } from "./asking.js";

let view = null, box = null;
export const shownView = () => view;
export const shownBox = () => box;
export function showBox(to) { box = to; draw(); }
export function showView(made) {
  const isSame = view && String(view.size_mm) === String(made.size_mm);
  view = made;
  if (!isSame || !box) whole();
  draw();
}
when("open", () => { view = box = null; draw(); });

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
export function draw(places = []) {
  const picture = byId("view");
  if (!view || !box) { picture.replaceChildren(); return; }
  const way = document.querySelector("input[name=way]:checked").value;
  const made = SHAPES[way].map(([name, kind]) => svg("path", { d: view.paths[name] ?? "", class: kind, "fill-rule": "evenodd", transform: "scale(.001)" }));
  if (byId("drawn").checked && way !== "seen") made.push(svg("path", { d: view.paths.drawn ?? "", class: "drawn", "fill-rule": "evenodd", transform: "scale(.001)" }));
  const high = view.size_mm[1];
  for (const [x, y] of places) made.push(svg("circle", { cx: x, cy: high - y, r: box[2] / 40, class: "place" }));
  picture.replaceChildren(...made);
  picture.setAttribute("viewBox", box.join(" "));
  picture.setAttribute("aria-label", `The piece, ${way}: ${view.headline}`);
}
export function whole() {
  const [wide, high] = view.size_mm, rim = Math.max(wide, high) / 40;
  box = [-rim, -rim, wide + 2 * rim, high + 2 * rim];
}
export function enlarge(by, x, y) {
  if (!box) return;
  const [x0, y0, w, h] = box, least = 0.02;
  const k = Math.max(by, least / w);
  if (w * k > 20 * Math.max(...view.size_mm)) return;
  box = [x - (x - x0) * k, y - (y - y0) * k, w * k, h * k];
  draw();
}
export function goTo(places) {
  if (!places.length) return;
  const [x, y] = places[0], high = view.size_mm[1], wide = 6;
  document.querySelector("input[name=way][value=finished]").checked = true;
  box = [x - wide / 2, high - y - wide / 2, wide, wide];
  draw(places);
  byId("view").focus();
}
export function spot(event) {
  const picture = byId("view"), matrix = picture.getScreenCTM();
  if (!matrix) return [0, 0];
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [point.x, point.y];
}
for (const one of document.querySelectorAll("input[name=way], #drawn")) one.addEventListener("change", () => draw());
