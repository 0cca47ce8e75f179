// The whole plan: made in full, stopped, and its files offered.
import { ask, at, byId, guarded, tell, when } from "./asking.js";
import { show } from "./drafting.js";

byId("plan").addEventListener("click", guarded(async () => {
  byId("stop").hidden = false; byId("plan").disabled = true;
  const told = new EventSource(at("/progress"));
  told.onmessage = (event) => { byId("progress").textContent = JSON.parse(event.data); };
  told.addEventListener("end", () => told.close());
  try {
    const made = await ask(at("/plan"), {});
    if (made.superseded) byId("progress").textContent = "stopped; nothing was written";
    else if (made.mistakes) byId("progress").textContent = made.mistakes.map((one) => `${one.field} ${one.message}`).join("; ");
    else { show(made.view); byId("progress").textContent = made.view.headline; }
  } finally {
    told.close(); byId("stop").hidden = true; byId("plan").disabled = false;
    await listFiles();
    tell("planned");
  }
}));
byId("stop").addEventListener("click", guarded(() => ask(at("/stop"), {})));
async function listFiles() {
  const { files } = await ask(at("/files"));
  byId("files").replaceChildren(...files.map((name) => {
    const line = document.createElement("li"), link = document.createElement("a");
    link.href = at(`/file/${encodeURIComponent(name)}`); link.textContent = name; link.download = name;
    line.append(link);
    return line;
  }));
}
when("open", guarded(listFiles));
