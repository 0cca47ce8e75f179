// Which job is open, and its file as it is now.
import { ask, at, byId, guarded, now, say, tell, when } from "./asking.js";

// The list of jobs leads here by the name behind the address.
export async function listJobs(wanted = now.job ?? decodeURIComponent(location.hash.slice(1))) {
  const { jobs } = await ask("/api/jobs");
  const list = byId("job");
  // Where it lies is told only of jobs that bear the same name.
  const isTwice = (name) => jobs.filter((one) => one.name === name).length > 1;
  list.replaceChildren(...jobs.map(({ job, name, state: how }) => new Option(`${name} (${isTwice(name) ? `${job}, ` : ""}${how})`, job)));
  tell("jobs", jobs);
  if (!jobs.length) { byId("headline").textContent = "No job in this folder yet: make one below."; return; }
  list.value = jobs.some((one) => one.job === wanted) ? wanted : jobs[0].job;
  if (list.value !== now.job) await open(list.value);
}
export async function open(job) {
  now.job = job;
  // What stood here was said of another job.
  byId("headline").textContent = "Being drafted";
  byId("verdict").className = "";
  say("");
  tell("open", job);
  await again();
}
// Look at the file again: another program or another page may have changed it.
async function again() {
  taken(await ask(at("")));
}
export function taken(told) {
  Object.assign(now, { sha: told.sha256, values: told.values ?? {}, mistakes: told.mistakes });
  byId("undo").disabled = !told.undo; byId("redo").disabled = !told.redo;
  tell("text", told);
}

for (const way of ["undo", "redo"]) byId(way).addEventListener("click", guarded(async () => {
  taken(await ask(at(`/back/${way}`), {}));
}));
byId("job").addEventListener("change", guarded(() => open(byId("job").value)));
when("elsewhere", guarded(again));

// What another program or another page has saved is shown as soon as somebody looks.
let seen = "";
const sinceThen = guarded(async () => {
  if (!now.job || document.hidden) return;
  const { sha256 } = await ask(at("/stamp"));
  // An edit of this page may be on its way: only what stays different is another's.
  const isElsewhere = sha256 !== now.sha && sha256 === seen;
  seen = sha256;
  if (isElsewhere) { await again(); say("The job file was changed elsewhere; this is what it says now."); }
});
setInterval(sinceThen, 3000);
document.addEventListener("visibilitychange", sinceThen);
