// Jobs by their state with what was ordered, what they take together, and the shop book's history.
import { ask, byId, guarded, say } from "./asking.js";
import { watch } from "./sending.js";

const MEANING = { drawn: "drawn", planned: "planned", curing: "coat curing", etched: "etched", done: "done" };
const DATES = [["due", "Due"], ["curing", "Curing since"], ["etched", "Etched on"], ["done", "Done on"]];
let jobs = [], states = [];
const wayOf = (job) => `/api/job/${job.split("/").map(encodeURIComponent).join("/")}`;
const made = (tag, words, what = {}) => Object.assign(document.createElement(tag), { textContent: words, ...what });
const today = () => { const d = new Date(), two = (n) => String(n).padStart(2, "0"); return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`; };
const chosen = () => states.filter((state) => byId(`state-${state}`).checked);

async function load() {
  const told = await ask("/api/jobs");
  jobs = told.jobs;
  if (!states.length) {
    states = told.states;
    byId("states").append(...states.map((state) => {
      const label = document.createElement("label");
      const box = Object.assign(document.createElement("input"), { type: "checkbox", id: `state-${state}`, checked: state !== "done" });
      box.addEventListener("change", guarded(list));
      label.append(box, made("span", ""));
      return label;
    }));
  }
  await list();
}
// What is due first stands first; what is not ordered follows, newest first.
const order = (a, b) => (a.order.due ?? "9999").localeCompare(b.order.due ?? "9999") || b.saved - a.saved;
async function list() {
  for (const state of states) byId(`state-${state}`).parentElement.querySelector("span").textContent = `${MEANING[state]} (${jobs.filter((one) => one.state === state).length})`;
  const open = new Set([...document.querySelectorAll("#jobs details[open]")].map((one) => one.dataset.job));
  const active = document.activeElement?.id?.replace(/-today$/, "");
  const shown = jobs.filter((one) => chosen().includes(one.state)).sort(order);
  byId("jobs").replaceChildren(...shown.map((one) => card(one, open.has(one.job))));
  if (active) byId(active)?.focus();
  if (!shown.length) byId("jobs").append(made("p", jobs.length ? "No job is in these states." : "No job lies in this folder yet."));
  await total();
}
function card(one, isOpen) {
  const box = made("article", ""), kept = one.order;
  const head = made("h3", ""), link = made("a", one.name, { href: `/#${encodeURIComponent(one.job)}` });
  head.append(link, ` (${one.job})`);
  const how = [MEANING[one.state] + (one.since ? ` ${one.state === "curing" ? "since" : "on"} ${one.since}` : "")];
  if (one.is_stopped) how.push("its plan says STOP");
  if (one.is_older) how.push("changed since it was planned");
  const line = made("p", how.join("; "));
  if (kept.due) {
    const isLate = one.state !== "done" && kept.due < today();
    line.append("; ", made(isLate ? "strong" : "span", `${isLate ? "OVERDUE, was due" : "due"} ${kept.due}`, { className: isLate ? "stop" : "" }));
  }
  box.append(head, line);
  if (kept.customer) box.append(made("p", `For ${kept.customer}`));
  if (kept.words) box.append(made("blockquote", kept.words));
  const edit = document.createElement("details");
  edit.dataset.job = one.job; edit.open = isOpen;
  edit.append(made("summary", "Order and dates"), ...fields(one));
  box.append(edit);
  return box;
}
function fields(one) {
  const field = (key, name, input) => {
    const row = made("p", ""), label = made("label", name);
    input.id = label.htmlFor = `${one.job}-${key}`;
    const was = one.order[key] ?? "";
    input.value = was;
    input.addEventListener("change", guarded(() => keep(one, key, input.value, was)));
    row.append(label, input);
    return row;
  };
  const dated = DATES.map(([key, name]) => {
    const row = field(key, name, Object.assign(document.createElement("input"), { type: "date" }));
    if (key !== "due" && !one.order[key]) {
      const now = made("button", "Today", { type: "button", id: `${one.job}-${key}-today` });
      now.setAttribute("aria-label", `${name} today`);
      now.addEventListener("click", guarded(() => keep(one, key, today(), "")));
      row.append(now);
    }
    return row;
  });
  return [
    field("customer", "Customer", Object.assign(document.createElement("input"), { maxLength: 200 })),
    field("words", "Their words", Object.assign(document.createElement("textarea"), { maxLength: 4000, rows: 3 })), ...dated];
}
async function keep(one, key, value, was) {
  try {
    await ask(`${wayOf(one.job)}/order`, { key, value, was });
    say("");
  } finally { await load(); }
}

const digits = (value) => Number(value.toPrecision(3)).toLocaleString("en", { maximumFractionDigits: 2 });
const hours = (minutes) => `${Math.floor(Math.round(minutes) / 60)} h ${String(Math.round(minutes) % 60).padStart(2, "0")} min`;
async function total() {
  const asked = chosen().map((state) => `state=${state}`).join("&");
  const { rows, sums, unpriced, jobs: all, counted } = asked ? await ask(`/api/totals?${asked}`) : { rows: [], sums: {}, unpriced: [], jobs: 0, counted: 0 };
  byId("totals-of").textContent = counted === all ? "" : `${counted} of ${all} listed jobs are planned as they are now; the others are not counted.`;
  const isPriced = Object.keys(sums).length > 0;
  const head = made("tr", "");
  head.append(...["What", "About", ...(isPriced ? ["Comes to about"] : [])].map((words) => made("th", words, { scope: "col" })));
  byId("totals").replaceChildren(...(rows.length ? [head] : []), ...rows.map((row) => {
    const line = made("tr", "");
    line.append(made("th", row.name, { scope: "row" }), made("td", row.unit === "min" && row.amount >= 60 ? hours(row.amount) : `${digits(row.amount)} ${row.unit}`));
    if (isPriced) line.append(made("td", row.cost === null ? "no price given" : `${digits(row.cost)} ${row.currency}`));
    return line;
  }));
  byId("totals-sum").textContent = !isPriced ? "" : `Together about ${Object.entries(sums).map(([currency, sum]) => `${digits(sum)} ${currency}`).join(" and ")}, by the shop's own prices${unpriced.length ? `, without ${unpriced.join(", ")}` : ""}. Work by hand is not in it.`;
}

async function book() {
  const { entries, is_left_alone: isAlone } = await ask("/api/book");
  byId("book-none").hidden = entries.length > 0;
  byId("book-none").textContent = isAlone ? "The shop book is left alone (--no-book)." : "Nothing is kept yet: a bench sheet's record or a coupon's scan begins it.";
  byId("book").replaceChildren(...entries.map((one) => {
    const line = made("li", `${one.date}, ${one.kind} ${one.id}: ${one.words}`);
    if (!one.has_history) return line;
    const show = made("details", "");
    show.append(made("summary", "History"));
    show.addEventListener("toggle", () => {
      if (!show.open || show.querySelector("img, p")) return;
      const picture = made("img", "", { alt: `History of ${one.words}`, src: `/api/book/${one.id}/history` });
      picture.addEventListener("error", () => picture.replaceWith(made("p", "There is no history to draw yet.")));
      show.append(picture);
    });
    line.append(show);
    return line;
  }));
}
guarded(async () => { await load(); await book(); })();
watch(({ has, words }) => { say(words); if (has) guarded(async () => { await load(); await book(); })(); });
