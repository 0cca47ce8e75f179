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
  marks.replaceChildren(...line(size), ...pins(view, onScreen), ...cross(onScreen, size), ...ruler(scale, size));
}
function line([w, h]) {
  const share = splitAt();
  if (share <= 0 || share >= 100) return [];
  const x = (w * share) / 100;
  return [svg("path", { class: "between", d: `M${x} 0V${h}` }), svg("text", { class: "word", x: x - 8, y: 20, "text-anchor": "end" }, "drawn"), svg("text", { class: "word", x: x + 8, y: 20 }, "predicted")];
}
function pins(view, onScreen) {
  return view.findings.flatMap((one, k) => one.places.slice(0, 12).flatMap((at, n) => {
    const [x, y] = onScreen(at), kind = `pin ${one.level}`;
    if (n > 0) return [svg("circle", { class: kind, cx: x, cy: y, r: 4 })];
    const body = one.level === "stop" ? svg("rect", { class: kind, x: x - 11, y: y - 11, width: 22, height: 22 }) : svg("circle", { class: kind, cx: x, cy: y, r: 11 });
    const group = svg("g", {});
    group.append(body, svg("text", { class: "number", x, y: y + 5, "text-anchor": "middle" }, k + 1));
    return [group];
  })).reverse();
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
