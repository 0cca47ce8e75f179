// What lies over the picture in pixels: the cross, the findings' places, the scale, the line between.
import { byId, when } from "./asking.js";
import { onPicture, shownView, splitAt, visible } from "./picture.js";
import { place } from "./cursor.js";

const svg = (tag, what, words) => {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(what)) made.setAttribute(name, value);
  if (words !== undefined) made.textContent = words;
  return made;
};
export function mark() {
  const marks = byId("marks"), view = shownView();
  if (!view) { marks.replaceChildren(); return; }
  const [x0, y0, wide, high, scale] = visible();
  const onScreen = (at) => { const [x, y] = onPicture(at); return [(x - x0) * scale, (y - y0) * scale]; };
  const size = [wide * scale, high * scale];
  marks.replaceChildren(...line(size), ...pins(view, onScreen, size), ...cross(onScreen, size), ...ruler(scale, size));
}
function line([w, h]) {
  const share = splitAt();
  if (share <= 0 || share >= 100) return [];
  const x = (w * share) / 100;
  return [svg("path", { class: "between", d: `M${x} 0V${h}` }), svg("text", { class: "word", x: x - 8, y: 20, "text-anchor": "end" }, "drawn"), svg("text", { class: "word", x: x + 8, y: 20 }, "predicted")];
}
// Numbers stand clear of each other: one that would cover an earlier one stands beside its place, on a line.
const CLEAR = 25, RIM = 13;
function pins(view, onScreen, [w, h]) {
  const taken = [];
  return view.findings.flatMap((one, k) => one.places.slice(0, 12).flatMap((at, n) => {
    const there = onScreen(at), kind = `pin ${one.level}`;
    if (n > 0) return [svg("circle", { class: kind, cx: there[0], cy: there[1], r: 4 })];
    const [x, y] = besides(there, taken, w, h);
    taken.push([x, y]);
    const group = svg("g", {});
    if (x !== there[0] || y !== there[1]) group.append(svg("path", { class: "lead", d: `M${there[0]} ${there[1]}L${x} ${y}` }), svg("circle", { class: kind, cx: there[0], cy: there[1], r: 3 }));
    const body = one.level === "stop" ? svg("rect", { class: kind, x: x - 11, y: y - 11, width: 22, height: 22 }) : svg("circle", { class: kind, cx: x, cy: y, r: 11 });
    group.append(body, svg("text", { class: "number", x, y: y + 5, "text-anchor": "middle" }, k + 1));
    return [group];
  })).reverse();
}
// The nearest spot, ring by ring, that is clear of all that are taken; within the picture if its place is.
function besides([x, y], taken, w, h) {
  const fits = (at, isOut) => (isOut || (at[0] > RIM && at[0] < w - RIM && at[1] > RIM && at[1] < h - RIM)) && taken.every((one) => Math.hypot(one[0] - at[0], one[1] - at[1]) >= CLEAR);
  const isOut = x < 0 || y < 0 || x > w || y > h;
  if (fits([x, y], true)) return [x, y];
  for (let ring = 1; ring < 8; ring += 1) {
    for (let k = 0; k < 8 * ring; k += 1) {
      const turn = (k / (4 * ring) - 0.25) * Math.PI, at = [x + ring * CLEAR * Math.cos(turn), y + ring * CLEAR * Math.sin(turn)];
      if (fits(at, isOut)) return at;
    }
  }
  return [x, y];
}
function cross(onScreen, [w, h]) {
  if (!place()) return [];
  const [x, y] = onScreen(place());
  const d = `M${x} 0V${y - 7}M${x} ${y + 7}V${h}M0 ${y}H${x - 7}M${x + 7} ${y}H${w}`;
  return [svg("path", { class: "cross under", d }), svg("path", { class: "cross", d })];
}
// A length of 1, 2 or 5 times a power of ten, near a fifth of the picture.
function ruler(scale, [w, h]) {
  const about = w / 5 / scale, power = 10 ** Math.floor(Math.log10(about));
  const long = [5, 2, 1].find((one) => one * power <= about) * power, px = long * scale;
  const words = long < 0.1 ? `${Math.round(long * 1000)} µm` : `${Number(long.toPrecision(2))} mm`;
  const x = 14, y = h - 16;
  return [svg("path", { class: "ruler under", d: `M${x} ${y - 6}V${y}H${x + px}V${y - 6}` }), svg("path", { class: "ruler", d: `M${x} ${y - 6}V${y}H${x + px}V${y - 6}` }), svg("text", { class: "word", x: x + 6, y: y - 6 }, words)];
}
for (const what of ["framed", "place", "drawn", "way"]) when(what, mark);
