// The controls: made from what defines the job file; each writes one key of it.
import { ask, at, byId, guarded, now, say, when } from "./asking.js";
import { taken } from "./opening.js";

let sections = [];
export async function begin() {
  ({ sections } = await ask("/api/sections"));
}
when("text", (told) => build(told.mistakes));

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
function build(mistakes) {
  const opened = new Set([...document.querySelectorAll("#controls details[open]")].map((one) => one.dataset.title));
  const active = document.activeElement?.dataset?.way;
  const made = sections.map((section, number) => {
    const box = document.createElement("details");
    box.dataset.title = section.title;
    box.open = opened.size ? opened.has(section.title) : number < 2;
    const title = document.createElement("summary");
    title.textContent = section.title;
    box.append(title);
    let wrong = 0;
    for (const table of section.tables) {
      for (const way of waysOf(table.table, table)) {
        const group = document.createElement("fieldset");
        const name = document.createElement("legend");
        name.textContent = way.map((step) => (typeof step === "number" ? `${step + 1}` : step)).join(" ");
        group.append(name);
        const given = valueAt(way);
        for (const key of table.keys) {
          const [row, faults] = control(way, key, given, mistakes);
          wrong += faults;
          group.append(row);
        }
        box.append(group);
      }
      if (table.keys[0].is_listed && !table.table.includes(".")) {
        const more = document.createElement("button");
        more.type = "button"; more.textContent = `One more ${table.table}`;
        more.addEventListener("click", () => add(table));
        box.append(more);
      }
    }
    if (wrong) { title.append(` (${wrong} wrong)`); title.classList.add("wrong"); box.open = true; }
    return box;
  });
  const loose = mistakes.filter((one) => !one.shown).map((one) => {
    const line = document.createElement("p");
    line.className = "wrong";
    line.textContent = `${one.field ? `${one.field} ` : ""}${one.message}${one.line ? ` (line ${one.line})` : ""}`;
    return line;
  });
  byId("controls").replaceChildren(...loose, ...made);
  if (active) document.querySelector(`[data-way="${CSS.escape(active)}"]`)?.focus();
}
function shown(value) {
  if (value === undefined || value === null) return "";
  return typeof value === "string" ? value : JSON.stringify(value);
}
function control(way, key, given, mistakes) {
  const row = document.createElement("div");
  row.className = "key";
  const id = [...way, key.name].join("-");
  const value = given?.[key.name];
  const name = document.createElement("label");
  name.htmlFor = id; name.textContent = key.name.replaceAll("_", " ") + (key.is_required && given ? " *" : "");
  let field;
  if (key.kind === "choice" || key.kind === "yes-or-no") {
    field = document.createElement("select");
    const words = key.kind === "choice" ? key.choices : ["true", "false"];
    field.append(new Option(key.default === null ? "(not given)" : `(not given: ${shown(key.default)})`, ""));
    field.append(...words.map((word) => new Option(word, word)));
    field.value = value === undefined ? "" : String(value);
  } else {
    field = document.createElement("input");
    field.value = shown(value);
    field.placeholder = key.default === null ? `such as ${shown(key.example)}` : shown(key.default);
  }
  field.id = id; field.dataset.way = id;
  const help = document.createElement("span");
  help.id = `${id}-help`;
  help.textContent = `${key.meaning}. ${key.takes}${key.usual ? `; usual ${key.usual[0]} to ${key.usual[1]}` : ""}`;
  field.setAttribute("aria-describedby", help.id);
  field.addEventListener("change", guarded(() => edit(way, key, field, value)));
  row.append(name, field, help);
  const path = [...way, key.name].map((step, k, all) => (typeof step === "number" ? `[${step + 1}]` : (k && typeof all[k] === "string" ? `.${step}` : step))).join("");
  let faults = 0;
  for (const one of mistakes) {
    if (one.field !== path && !one.field.startsWith(`${path}[`) && !one.field.startsWith(`${path}.`)) continue;
    one.shown = true; faults += 1;
    const wrong = document.createElement("p");
    wrong.className = "wrong"; wrong.id = `${id}-wrong`;
    wrong.textContent = `${key.name} ${one.message}`;
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", `${help.id} ${wrong.id}`);
    row.append(wrong);
  }
  return [row, faults];
}
function meant(key, text) {
  const words = text.trim();
  if (words === "") return null;
  if (key.kind === "yes-or-no") return words === "true";
  if (words === "true" || words === "false") return words === "true";
  if (key.kind === "count" && /^[0-9]+$/.test(words)) return Number(words);
  if (key.kind === "number" && /^[0-9.]+$/.test(words)) return Number(words);
  if (/^[[{]/.test(words)) { try { return JSON.parse(words); } catch { return words; } }
  return words;
}
async function edit(way, key, field, was) {
  taken(await ask(at("/edit"), { sha256: now.sha, table: way, key: key.name, value: meant(key, field.value), was: was ?? null }));
  say("");
}
const add = guarded(async (table) => {
  const count = (valueAt([table.table]) ?? []).length;
  const first = table.keys.find((key) => key.is_required) ?? table.keys[0];
  taken(await ask(at("/edit"), { sha256: now.sha, table: [table.table, count], key: first.name, value: first.example, was: null }));
});
