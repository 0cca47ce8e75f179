// What comes from outside: files put beside the job, and new jobs.
import { ask, at, byId, guarded, now, say, tell, when } from "./asking.js";
import { listJobs, taken } from "./opening.js";

const ARTWORK = /\.(svg|pdf|dxf|png|jpe?g|tiff?|bmp|webp)$/i;
const put = guarded(async (file) => {
  if (!file || !now.job) return;
  const send = async (replace) => {
    const form = new FormData();
    form.append("replace", replace); form.append("file", file);
    return fetch(at("/upload"), { method: "POST", body: form });
  };
  let answer = await send("no");
  if (answer.status === 409 && window.confirm(`${file.name} is there already. Replace it?`)) answer = await send("yes");
  const told = await answer.json();
  if (!answer.ok) { say(told.error ?? "not replaced"); return; }
  if (!ARTWORK.test(told.name)) { say(`${told.name} lies beside the job now`); tell("elsewhere"); return; }
  const was = now.values.artwork?.file ?? null;
  taken(await ask(at("/edit"), { sha256: now.sha, table: ["artwork"], key: "file", value: told.name, was }));
  say(`${told.name} is this job's artwork now; Undo takes it back`);
});
byId("upload").addEventListener("change", async () => { await put(byId("upload").files[0]); byId("upload").value = ""; });
const stage = document.querySelector(".stage");
for (const what of ["dragover", "dragleave", "drop"]) stage.addEventListener(what, (event) => {
  event.preventDefault();
  stage.classList.toggle("takes", what === "dragover");
  if (what === "drop") put(event.dataTransfer.files[0]);
});

// A job begins from a starter, or as a copy of one that is here, the last one first.
const STARTERS = [["plate", "an etched plate"], ["sign", "a sign behind plastic"]];
when("jobs", (jobs) => byId("new-from").replaceChildren(
  ...STARTERS.map(([kind, words]) => new Option(words, `kind ${kind}`)),
  ...jobs.map(({ job, name }) => new Option(`a copy of ${name}`, `copy ${job}`))));
when("open", (job) => { if (byId("new-from").querySelector(`[value="copy ${CSS.escape(job)}"]`)) byId("new-from").value = `copy ${job}`; });
byId("new-name").addEventListener("input", () => byId("new-name").setCustomValidity(""));
byId("new").addEventListener("submit", guarded(async (event) => {
  event.preventDefault();
  const [how, from] = byId("new-from").value.split(/ (.*)/);
  const name = byId("new-name");
  const { job } = await ask("/api/new", { name: name.value, [how]: from }).catch((fault) => {
    // On a phone what is said above is out of sight from here.
    if (fault.status === 400) { name.setCustomValidity(fault.message); name.reportValidity(); }
    throw fault;
  });
  name.value = "";
  await listJobs(job);
  byId("piece").focus();
}));
