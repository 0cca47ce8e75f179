// Questions to the server, and what is said of them; the open job and who wants to hear of it.
export const byId = (id) => document.getElementById(id);
export const now = { job: null, sha: "", values: {}, mistakes: [] };
export const say = (words) => { byId("said").textContent = words; };

export async function ask(way, said) {
  const options = said === undefined ? {} : {
    method: "POST", body: JSON.stringify(said), headers: { "content-type": "application/json" } };
  const answer = await fetch(way, options).catch(() => {
    throw new Error("no answer; does stopout bench still run in its terminal?");
  });
  const told = await answer.json().catch(() => ({ error: `no answer (${answer.status})` }));
  if (!answer.ok) throw Object.assign(new Error(told.error || `status ${answer.status}`), { status: answer.status, told });
  return told;
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
