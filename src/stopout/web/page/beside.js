// What comes from outside: files put beside the job, and new jobs.
import { ask, at, byId, guarded, now, say, tell } from "./asking.js";
import { listJobs, open } from "./opening.js";

byId("upload").addEventListener("change", guarded(async () => {
  const file = byId("upload").files[0];
  if (!file) return;
  const send = async (replace) => {
    const form = new FormData();
    form.append("replace", replace); form.append("file", file);
    return fetch(at("/upload"), { method: "POST", body: form });
  };
  let answer = await send("no");
  if (answer.status === 409 && window.confirm(`${file.name} is there already. Replace it?`)) answer = await send("yes");
  const told = await answer.json();
  if (!answer.ok) { say(told.error ?? "not replaced"); return; }
  say(`${told.name} lies beside the job now`);
  tell("elsewhere");
}));
byId("new").addEventListener("submit", guarded(async (event) => {
  event.preventDefault();
  const { job } = await ask("/api/new", { name: byId("new-name").value, kind: byId("new-kind").value });
  now.job = job;
  await listJobs();
  await open(job);
}));
