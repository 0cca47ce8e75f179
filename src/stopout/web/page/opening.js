// Which job is open, and its file as it is now.
import { ask, at, byId, guarded, now, tell, when } from "./asking.js";

export async function listJobs() {
  const { jobs } = await ask("/api/jobs");
  const list = byId("job");
  list.replaceChildren(...jobs.map(({ job, name, state: how }) => new Option(`${name} (${job}, ${how})`, job)));
  if (!jobs.length) { byId("headline").textContent = "No job in this folder yet: make one below."; return; }
  // The list of jobs leads here by the name behind the address.
  const wanted = now.job ?? decodeURIComponent(location.hash.slice(1));
  list.value = jobs.some((one) => one.job === wanted) ? wanted : jobs[0].job;
  if (list.value !== now.job) await open(list.value);
}
export async function open(job) {
  now.job = job;
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
