// ---- what is kept: ticks, values, what happened to each batch, timers, and what was done
const body = document.body;
const key = "stopout-sheet-" + body.dataset.key;
const byId = (id) => document.getElementById(id);
const all = (selector, root) => Array.from((root || document).querySelectorAll(selector));
const EMPTY = { ticks: {}, values: {}, lanes: {}, timers: {}, rung: {}, log: [], theme: "", at: 1, walking: true, record: "" };
const fresh = () => JSON.parse(JSON.stringify(EMPTY));
let state = fresh(), keeps = true;

function read() {
  try {
    const text = localStorage.getItem(key);
    return text ? Object.assign(fresh(), JSON.parse(text)) : fresh();
  } catch (error) { keeps = false; return null; }
}
function load() {
  state = read() || fresh();
  try {
    localStorage.setItem(key + "-try", "1");
    localStorage.removeItem(key + "-try");
  } catch (error) { keeps = false; }
  tellIfLost();
}
function tellIfLost() {
  if (keeps) return;
  byId("kept").textContent =
    "This browser keeps nothing: ticks and values are lost when the page is closed. Save the record before.";
  byId("kept").hidden = false;
}
// Another tab may have written since: a change is made to what is kept, not to what is shown.
function change(work) {
  if (keeps) state = read() || state;
  work(state);
  if (!keeps) return;
  try { localStorage.setItem(key, JSON.stringify(state)); } catch (error) { keeps = false; tellIfLost(); }
}
