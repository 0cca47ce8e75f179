// The controls: made from what defines the job file; each writes one key of it.
import { ask, at, byId, guarded, now, say, when } from "./asking.js";
import { taken } from "./opening.js";

let sections = [];
export async function begin() {
  ({ sections } = await ask("/api/sections"));
}
// Built when the draft has been asked for: it need not wait for them.
when("text", (told) => setTimeout(() => build(told.mistakes)));

// --- which controls ---
const valueAt = (way, from = now.values) => way.reduce((here, step) => (here == null ? undefined : here[step]), from);
function waysOf(name, table) {
  // Where a table stands in this file: once, or once for each element of an array of tables.
  const steps = name.split(".");
  let ways = [[]];
  for (const [place, step] of steps.entries()) {
    ways = ways.flatMap((way) => {
      const here = valueAt([...way, step]);
      if (Array.isArray(here)) return here.map((_, k) => [...way, step, k]);
      const isLast = place === steps.length - 1;
      return isLast && table.keys[0].is_listed ? [] : [[...way, step]];
    });
  }
  return ways;
}
const made = (tag, what = {}, ...inner) => {
  const one = Object.assign(document.createElement(tag), what);
  one.append(...inner);
  return one;
};
function folded(title, words, isOpen, ...inner) {
  const box = made("details", { open: isOpen }, made("summary", { textContent: words }), ...inner);
  box.dataset.title = title;
  return box;
}
function build(mistakes) {
  const boxes = [...document.querySelectorAll("#controls details")];
  const opened = boxes.length ? new Set(boxes.filter((one) => one.open).map((one) => one.dataset.title)) : null;
  const isOpen = (title, first) => (opened ? opened.has(title) : first);
  const active = document.activeElement;
  // What is being typed is not lost where the file changes meanwhile.
  const typed = active?.dataset?.way && "defaultValue" in active && active.value !== active.defaultValue ? active.value : null;
  const parts = sections.map((section, number) => part(section, number, mistakes, isOpen));
  const loose = mistakes.filter((one) => !one.shown).map((one) => made("p", {
    className: "wrong", textContent: `${one.field ? `${one.field} ` : ""}${one.message}${one.line ? ` (line ${one.line})` : ""}` }));
  byId("controls").replaceChildren(...loose, ...parts);
  if (!active?.dataset?.way) return;
  const again = document.querySelector(`[data-way="${CSS.escape(active.dataset.way)}"]`);
  if (again && typed !== null) again.value = typed;
  again?.focus({ preventScroll: true });
}
// One section: what the file gives stands open, what else there is to give lies folded below.
function part(section, number, mistakes, isOpen) {
  const rows = [], absent = [];
  let wrong = 0;
  for (const table of section.tables) {
    for (const way of waysOf(table.table, table)) {
      const given = valueAt(way), [group, faults] = tableOf(way, table, given, mistakes, isOpen);
      wrong += faults;
      (given === undefined && !faults ? absent : rows).push(group);
    }
    if (table.keys[0].is_listed && !table.table.includes(".")) {
      const more = made("button", { type: "button", textContent: `One more ${table.table}` });
      more.addEventListener("click", () => add(table));
      absent.push(made("p", {}, more));
    }
  }
  const title = section.title, isBare = !rows.length;
  if (absent.length) rows.push(isBare ? made("div", {}, ...absent) : folded(`${title}/+`, "Further parts, not in this job", isOpen(`${title}/+`, false), ...absent));
  const box = folded(title, wrong ? `${title} (${wrong} wrong)` : title, wrong > 0 || isOpen(title, number < 1), ...rows);
  box.className = "part";
  if (wrong) box.firstChild.className = "wrong";
  if (isBare) box.firstChild.append(made("small", { textContent: " nothing given" }));
  return box;
}
function tableOf(way, table, given, mistakes, isOpen) {
  const name = way.map((step) => (typeof step === "number" ? `${step + 1}` : step.replaceAll("_", " "))).join(" ");
  const group = made("fieldset", {}, made("legend", { textContent: name }));
  const rest = [];
  let wrong = 0;
  for (const key of table.keys) {
    const [row, faults] = control(way, key, given, mistakes);
    wrong += faults;
    const isShown = faults || given?.[key.name] !== undefined || (given && key.is_required);
    if (isShown) group.append(row); else rest.push(row);
  }
  const title = `${way.join("/")}/more`;
  if (rest.length) group.append(folded(title, given === undefined ? "What it takes" : `${rest.length} more to give`, isOpen(title, false), ...rest));
  return [group, wrong];
}
// As in the job file, but for the quotes round a lone text.
function shown(value) {
  if (value === undefined || value === null) return "";
  return typeof value === "string" ? value : written(value);
}
function written(value) {
  if (Array.isArray(value)) return `[${value.map(written).join(", ")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  return `{ ${Object.entries(value).map(([name, one]) => `${name} = ${written(one)}`).join(", ")} }`;
}
// A list of so many has a field for each, and so has what is given as a list where one would do.
function partsOf(key, value) {
  const isOfMany = /^list of \d/.test(key.takes) || (Array.isArray(value) && !key.takes.startsWith("list of "));
  const like = value ?? key.example;
  return isOfMany && Array.isArray(like) && like.every((one) => typeof one !== "object") ? like.length : 1;
}
const PARTS = ["first", "second", "third", "fourth"];
function control(way, key, given, mistakes) {
  const id = [...way, key.name].join("-"), value = given?.[key.name];
  const name = made("label", { htmlFor: id, textContent: key.name.replaceAll("_", " ") + (key.is_required && given ? " *" : "") });
  const count = partsOf(key, value), fields = count > 1 ? fieldsOf(key, value, count, id) : [fieldOf(key, value)];
  const [field] = fields;
  field.id = id;
  const usual = key.usual ? `; usual ${key.usual[0]} to ${key.usual[1]}` : "";
  const takes = key.takes.replaceAll("`", "").replace(/^list of \d: /, "each a ");
  const help = made("p", { className: "help", id: `${id}-help` }, `${key.meaning}. `, made("span", { textContent: `${takes.slice(0, 1).toUpperCase()}${takes.slice(1)}${usual}` }));
  for (const one of fields) {
    one.dataset.way = one.id;
    one.setAttribute("aria-describedby", help.id);
    one.addEventListener("change", guarded(() => edit(way, key, fields, value)));
  }
  const row = made("div", { className: "key" }, name, count > 1 ? made("div", { className: "side" }, ...fields) : field);
  const path = [...way, key.name].map((step, k) => (typeof step === "number" ? `[${step + 1}]` : (k ? `.${step}` : step))).join("");
  let faults = 0;
  for (const one of mistakes) {
    if (one.field !== path && !one.field.startsWith(`${path}[`) && !one.field.startsWith(`${path}.`)) continue;
    one.shown = true; faults += 1;
    const wrong = made("p", { className: "wrong", id: `${id}-wrong`, textContent: `${key.name} ${one.message}` });
    for (const [k, part] of fields.entries()) {
      const own = one.field.slice(path.length).match(/^\[(\d+)\]/);
      if (own && Number(own[1]) !== k + 1) continue;
      part.setAttribute("aria-invalid", "true");
      part.setAttribute("aria-describedby", `${help.id} ${wrong.id}`);
    }
    row.append(wrong);
  }
  row.append(help);
  return [row, faults];
}
function fieldOf(key, value) {
  if (key.kind === "choice" || key.kind === "yes-or-no") {
    const words = key.kind === "choice" ? key.choices : ["true", "false"];
    const none = key.default === null ? "(not given)" : `(not given: ${shown(key.default)})`;
    const field = made("select", {}, new Option(none, ""), ...words.map((word) => new Option(word, word)));
    field.value = value === undefined ? "" : String(value);
    return field;
  }
  return lineOf(key, value, key.example, key.default);
}
function lineOf(key, value, example, usual) {
  const field = made("input", { placeholder: usual === null || usual === undefined ? `such as ${shown(example)}` : shown(usual) });
  field.defaultValue = shown(value);
  return field;
}
// Fields side by side, which are one list in the file: written once all are filled, left out once none is.
function fieldsOf(key, value, count, id) {
  const at = (list, k) => (Array.isArray(list) ? list[k] : list);
  const fields = Array.from({ length: count }, (_, k) => lineOf(key, at(value, k), at(key.example, k), at(key.default, k)));
  for (const [k, field] of fields.entries()) {
    field.id = k ? `${id}-${k + 1}` : id;
    field.setAttribute("aria-label", `${key.name.replaceAll("_", " ")}, ${PARTS[k] ?? k + 1}`);
  }
  return fields;
}
function meant(key, text) {
  const words = text.trim();
  if (words === "") return null;
  if (key.kind === "yes-or-no") return words === "true";
  if (words === "true" || words === "false") return words === "true";
  if (key.kind === "count" && /^[0-9]+$/.test(words)) return Number(words);
  if (key.kind === "number" && /^[0-9.]+$/.test(words)) return Number(words);
  // Lists and tables as in the job file; names before their values are quoted as JSON has them.
  if (/^[[{]/.test(words)) { try { return JSON.parse(words.replace(/([{,]\s*)([\w-]+)\s*=/g, '$1"$2":')); } catch { return words; } }
  return words;
}
async function edit(way, key, fields, was) {
  const parts = fields.map((field) => meant(key, field.value)), given = parts.filter((one) => one !== null).length;
  const isOne = given === 1 && parts[0] !== null && !key.takes.startsWith("list of ");
  if (given && given < parts.length && !isOne) { say(`${key.name.replaceAll("_", " ")} has ${parts.length} parts; it is written once all are given`); return; }
  const value = !given ? null : parts.length === 1 || isOne ? parts[0] : parts;
  taken(await ask(at("/edit"), { sha256: now.sha, table: way, key: key.name, value, was: was ?? null }));
  say("");
}
const add = guarded(async (table) => {
  const count = (valueAt([table.table]) ?? []).length;
  const first = table.keys.find((key) => key.is_required) ?? table.keys[0];
  taken(await ask(at("/edit"), { sha256: now.sha, table: [table.table, count], key: first.name, value: first.example, was: null }));
});
