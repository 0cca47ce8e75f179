// The whole plan: made in full, followed, stopped; then what to take from it, and the phone's sheet.
import { ask, at, byId, guarded, now, tell, when } from "./asking.js";
import { show } from "./drafting.js";
import { send, waiting, watch } from "./sending.js";

const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.round(seconds) % 60).padStart(2, "0")}`;
let followed = null;

byId("plan").addEventListener("click", guarded(async () => {
  const job = now.job, asked = ask(at("/plan"), {});
  follow();
  try {
    const made = await asked;
    if (job !== now.job) return;
    if (made.superseded) byId("progress").textContent = "Stopped; nothing was written.";
    else if (made.mistakes) byId("progress").textContent = made.mistakes.map((one) => `${one.field} ${one.message}`).join("; ");
    else { show(made.view); byId("progress").textContent = [made.view.headline, ...made.kept].join(". "); }
  } finally {
    idle();
    await listFiles();
    tell("planned");
  }
}));
byId("stop").addEventListener("click", guarded(() => ask(at("/stop"), {})));

// Also a plan that another page has begun, or this one before it was loaded again.
function follow() {
  followed?.close();
  const own = followed = new EventSource(at("/progress"));
  let isSeen = false;
  own.onmessage = ({ data }) => {
    const { stage, spent_s: spent, left_s: left } = JSON.parse(data);
    isSeen = true;
    byId("stop").hidden = false; byId("plan").disabled = true;
    const rest = left === null ? "" : left <= 0 ? ", longer than last time" : `, ${clock(left)} left if it goes as last time`;
    byId("progress").textContent = `${stage || "beginning"}: ${clock(spent)} so far${rest}`;
  };
  own.addEventListener("end", () => {
    if (own !== followed) return;
    idle();
    if (isSeen) guarded(listFiles)();
  });
  own.onerror = () => { if (own === followed) idle(); };
}
function idle() {
  followed?.close(); followed = null;
  byId("stop").hidden = true; byId("plan").disabled = false;
}

const size = (bytes) => (bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`);
const HEADS = { program: "Program", film: "Film", sheet: "Bench sheet", annex: "Annex" };
async function listFiles() {
  const { files, state, is_current: isCurrent, sheet, is_for_phones: isForPhones } = await ask(at("/files"));
  const first = files.filter((one) => HEADS[one.kind]), rest = files.filter((one) => !HEADS[one.kind]);
  byId("files").replaceChildren(...first.map(line));
  byId("more-files").replaceChildren(...rest.map(line));
  byId("more-files").closest("details").hidden = !rest.length;
  byId("plan-state").textContent = !files.length ? "Nothing is planned in full yet."
    : !isCurrent ? "These are of the plan before the last change: plan in full again before you work from them."
    : state === "stopped" ? "The plan says STOP: no program, and nothing to work from." : "";
  byId("plan-state").classList.toggle("stop", Boolean(files.length) && (!isCurrent || state === "stopped"));
  byId("phone").hidden = !sheet;
  byId("phone-sheet").href = `/sheet/${now.job.split("/").map(encodeURIComponent).join("/")}`;
  byId("phone-code").hidden = true;
  if (sheet && isForPhones) byId("phone-code").src = at("/code");
}
byId("phone-code").onload = () => {
  byId("phone-code").hidden = false;
  byId("phone-how").textContent = "For the phone's camera. Its record comes back by itself.";
};
function line(one) {
  const made = document.createElement("li"), link = document.createElement("a");
  link.href = at(`/file/${encodeURIComponent(one.name)}`); link.textContent = one.name; link.download = one.name;
  made.append(HEADS[one.kind] ? `${HEADS[one.kind]}: ` : "", link, ` (${one.words ? `${one.words}, ` : ""}${size(one.bytes)})`);
  return made;
}
when("open", guarded(async () => { idle(); byId("progress").textContent = ""; follow(); await listFiles(); }));
when("text", guarded(listFiles));

// Records that a bench sheet in this browser could not send wait here too.
function told({ has, words }) {
  byId("records-said").textContent = words;
  if (has) tell("recorded");
}
watch(told);
if (waiting().length) send(told);
