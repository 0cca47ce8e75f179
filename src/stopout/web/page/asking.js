// Questions to the server, and what is said of them; the open job and who wants to hear of it.
export const byId = (id) => document.getElementById(id);
export const now = { job: null, sha: "", values: {}, mistakes: [] };
export const say = (words) => { byId("said").textContent = words; };

async function answered(way, said) {
  const options = said === undefined ? {} : {
    method: "POST", body: JSON.stringify(said), headers: { "content-type": "application/json" } };
  const answer = await fetch(way, options).catch(() => {
    throw new Error("no answer; does stopout bench still run in its terminal?");
  });
  if (answer.ok) return answer;
  const told = await answer.json().catch(() => ({}));
  throw Object.assign(new Error(told.error || `no answer (${answer.status})`), { status: answer.status, told });
}
export const ask = async (way, said) => (await answered(way, said)).json();
// An answer that comes line by line, each as soon as it is there.
export async function* lines(way, said) {
  const reader = (await answered(way, said)).body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    const whole = (rest + value).split("\n");
    rest = whole.pop();
    for (const line of whole) yield JSON.parse(line);
  }
}
export const at = (way) => `/api/job/${now.job.split("/").map(encodeURIComponent).join("/")}${way}`;

// "jobs": they are listed; "open": another job; "text": its file has changed; "drawn": a draft or a plan is shown; "planned";
// "framed": another part of the piece; "place": another place is read; "way": another way of showing.
const heard = new EventTarget();
export const tell = (what, detail) => heard.dispatchEvent(new CustomEvent(what, { detail }));
export const when = (what, then) => heard.addEventListener(what, ({ detail }) => then(detail));

// Work whose fault is said; a job that was changed elsewhere is looked at again.
export const guarded = (work) => async (...all) => {
  try { await work(...all); } catch (fault) {
    say(fault.message);
    if (fault.status === 409 && now.job) tell("elsewhere");
  }
};
