// Records of bench sheets on their way to the bench: each is kept in this browser until the bench
// says that it has it. Saved anew, a record takes the place of the one that still waits.
const PREFIX = "stopout-waiting-";
const AGAIN_MS = 15000;

// Keep a record for the way; false where this browser keeps nothing.
export function keep(way, content) {
  try {
    localStorage.setItem(PREFIX + content.record_id, JSON.stringify({ way, content }));
    return true;
  } catch { return false; }
}
export function waiting() {
  try {
    return Object.keys(localStorage).filter((name) => name.startsWith(PREFIX)).sort();
  } catch { return []; }
}

let isSending = false, isDue = false;
// Send what waits, one after another; `told` hears of each: { has, words, id }.
export async function send(told) {
  if (isSending) { isDue = true; return; }
  isSending = true;
  try {
    do {
      isDue = false;
      for (const name of waiting()) await sendOne(name, told);
    } while (isDue);
  } finally { isSending = false; }
}
async function sendOne(name, told) {
  const text = localStorage.getItem(name);
  if (!text) return;
  const id = name.slice(PREFIX.length);
  try {
    const { way, content } = JSON.parse(text);
    const answer = await fetch(way, { method: "POST", body: JSON.stringify(content), headers: { "content-type": "application/json" } });
    const said = await answer.json().catch(() => ({}));
    if (answer.ok && said.has === id) {
      // Another tab may have saved it anew meanwhile: that is still to be sent.
      if (localStorage.getItem(name) === text) localStorage.removeItem(name); else isDue = true;
      told({ has: true, words: said.words, id });
    } else {
      const why = said.error || (answer.status === 403 ? "this address is no longer good: take the new code from the bench" : `answer ${answer.status}`);
      told({ has: false, words: `The bench did not take the record (${why}). It stays in this browser and is tried again.`, id });
    }
  } catch {
    told({ has: false, words: "No connection to the bench. The record stays in this browser and is sent when the bench answers again: leave this page open, or open it again.", id });
  }
}
// Try now and then, and when the connection is back; what is told is told of each try.
export function watch(told) {
  const again = () => { if (waiting().length) send(told); };
  window.setInterval(again, AGAIN_MS);
  window.addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  again();
}

// On a bench sheet: take over what is saved there.
const sheet = document.body.dataset.sendsTo;
if (sheet) {
  const said = document.getElementById("said");
  let lacks = "";
  const told = ({ has, words }) => { said.textContent = words + (has ? "" : lacks); };
  document.addEventListener("record", (event) => {
    lacks = event.detail.lacks;
    if (!keep(sheet, event.detail.content)) return;
    event.preventDefault();
    said.textContent = "On its way to the bench.";
    send(told);
  });
  const words = document.querySelector("#keep p");
  if (words) {
    const copy = document.createElement("a");
    copy.href = location.href; copy.download = "bench-sheet.html"; copy.textContent = "keep a copy on the phone";
    words.replaceChildren("Ticks, times and values are kept in this browser only. Save the record when the work is done: it goes to the bench by itself, into the shop book and beside the plan; without a connection it waits here. Loading this page anew needs the bench: leave it open, or ", copy, ".");
  }
  window.addEventListener("beforeunload", (event) => { if (!navigator.onLine) event.preventDefault(); });
  watch(told);
}
