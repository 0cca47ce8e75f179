// ---- clocks: each belongs to its pieces, and goes by the clock of the machine, so that sleep,
// reload and a second tab lose nothing. What is kept is what happened and when; the rest follows.
const MOST_OUT_S = 300, STILL_OUT_S = 120; // out of the bath to be looked at: our own limits
const laneBoxes = all(".lane"), timers = all(".timer");
const hour = (stamp) => new Date(stamp).toTimeString().slice(0, 8);
const eventsOf = (k) => state.lanes[k] || [];

function courseOf(k) {
  const run = { bath: 0, checks: {}, since: 0, outSince: 0, begun: false, ended: false, back: false };
  eventsOf(k).forEach((event) => {
    const now = run.bath + (run.since ? (event.at - run.since) / 1000 : 0);
    if (event.word === "in") { run.since = event.at; run.begun = true; run.ended = false; }
    else if (event.word === "out") { run.bath = now; run.since = 0; run.outSince = 0; run.ended = true; }
    else if (event.word === "check") { run.checks[event.k] = now; run.outSince = event.at; }
    else if (event.word === "back") { run.bath -= (event.at - run.outSince) / 1000; run.outSince = 0; }
  });
  if (run.since) {
    const now = Date.now();
    run.setBack = now < run.since - 1000;
    run.bath = Math.max(0, run.bath + (now - run.since) / 1000);
    run.isOut = run.outSince > 0 && now - run.outSince < 1000 * MOST_OUT_S;
    run.outFor = run.isOut ? (now - run.outSince) / 1000 : 0;
  }
  return run;
}
// The next thing to do on a running batch, and when: a look that was missed gives way to the next.
function pending(k, run) {
  const goal = aim(k).seconds, checks = lanes[k].checks;
  const open = checks.map((check, i) => ({ what: check[0], i, due: goal ? check[1] * goal : null }))
    .filter((check) => check.what === "lift" || !(check.i in run.checks));
  const later = Math.max(-1, ...Object.keys(run.checks).map(Number));
  const left = open.filter((check) => check.i > later);
  while (left.length > 1 && left[1].due !== null && run.bath >= left[1].due && left[0].due !== left[1].due) left.shift();
  return left[0];
}
const DO = { look: "Lifted to look", measure: "Lifted to gauge", lift: "Lifted: stop the clock" };
const SAY = { look: "Look", measure: "Gauge", lift: "Lift" };

let sound = null;
function wake() {
  try { sound = sound || new (window.AudioContext || window.webkitAudioContext)(); } catch (error) { sound = null; }
  // The screen stays on while a clock runs, where the phone lets a page ask for it.
  try { if (navigator.wakeLock) navigator.wakeLock.request("screen").catch(() => {}); } catch (error) { /* then not */ }
}
function call() {
  document.body.dataset.called = String(Number(document.body.dataset.called || 0) + 1);
  if (navigator.vibrate) navigator.vibrate([500, 200, 500, 200, 800]);
  try {
    if (!sound) return;
    [0, 0.4, 0.8].forEach((wait) => {
      const tone = sound.createOscillator(), gain = sound.createGain();
      tone.frequency.value = 880; gain.gain.value = 0.3;
      tone.connect(gain); gain.connect(sound.destination);
      tone.start(sound.currentTime + wait); tone.stop(sound.currentTime + wait + 0.25);
    });
  } catch (error) { /* silence is no fault: the words and the colour stay */ }
}
function ring(name) {
  if (state.rung[name]) return;
  change((kept) => { kept.rung[name] = Date.now(); });
  call();
}
function add(k, event) {
  wake();
  change((kept) => { (kept.lanes[k] = kept.lanes[k] || []).push(Object.assign({ at: Date.now() }, event)); });
  tick();
}
function say(element, words) {
  // Only a change of words is read out, not every second.
  const plain = words.replace(/[\d:]+/g, "");
  if (element.dataset.plain !== plain) { element.dataset.plain = plain; element.setAttribute("role", "status"); }
  else element.setAttribute("role", "presentation");
  if (element.textContent !== words) element.textContent = words;
}
function put(element, words) { if (element.textContent !== words) element.textContent = words; }

function drawLane(box) {
  const k = Number(box.dataset.lane), lane = lanes[k], run = courseOf(k), goal = aim(k).seconds;
  const runs = run.since > 0, next = runs ? pending(k, run) : null, over = goal ? run.bath - goal : -1;
  put(box.querySelector(".clock"), clock(run.bath));
  let word = goal ? "to be in the bath for " + clock(goal) : "waits";
  if (run.setBack) word = "This device's clock was set back: gauge now, and time by another clock";
  else if (runs && over >= 0) word = "OVER by " + clock(over) + ": lift it out";
  else if (run.isOut) word = "OUT TO BE LOOKED AT for " + clock(run.outFor) + (run.outFor >= STILL_OUT_S ? ": still out?" : "");
  else if (runs) word = "in the bath";
  else if (run.ended) word = "lifted after " + clock(run.bath);
  say(box.querySelector(".word"), word);
  let due = "";
  if (next && next.due !== null) {
    const wait = next.due - run.bath;
    due = SAY[next.what] + " at " + clock(next.due) + (wait > 0 ? ", in " + clock(wait) + ", at " + hour(Date.now() + 1000 * wait) : ": now");
  }
  put(box.querySelector(".due"), due);
  box.classList.toggle("over", runs && over >= 0);
  box.classList.toggle("now", runs && next && next.due !== null && run.bath >= next.due);
  box.classList.toggle("ended", run.ended);
  box.classList.toggle("waits", !run.begun);
  const act = box.querySelector(".act"), lift = box.querySelector(".lift");
  const current = bench.clock === "current";
  put(act, !run.begun ? (current ? "Current on: start the clock" : "In the bath: start the clock")
    : run.ended ? "Back in the bath: go on" : run.isOut ? "Back in the bath" : DO[next.what]);
  act.classList.toggle("main", !run.ended);
  put(lift, "Lifted for good: stop");
  lift.hidden = !runs || (!run.isOut && next.what === "lift");
  box.querySelector(".undo").hidden = !run.begun;
  put(box.querySelector(".log"), eventsOf(k).map((event) => saidOf(k, event) + " " + hour(event.at)).join("\n"));
  if (!runs) return null;
  if (next.due !== null && run.bath >= next.due) ring(k + ":" + next.what + next.i + "@" + Math.round(next.due));
  if (run.isOut && run.outFor >= STILL_OUT_S) ring(k + ":out@" + run.outSince);
  return { name: lane.name, gone: run.bath, target: goal, over: over >= 0, element: box,
           due: next.due === null ? Infinity : next.due - run.bath, what: next.what, i: next.i };
}
function saidOf(k, event) {
  if (event.word !== "check") return { in: "in the bath", back: "back in", out: "lifted" }[event.word];
  return { look: "looked at", measure: "gauged" }[lanes[k].checks[event.k][0]];
}
function press(k) {
  const run = courseOf(k);
  if (!run.since) add(k, { word: "in" });
  else if (run.isOut) add(k, { word: "back" });
  else {
    const next = pending(k, run);
    add(k, next.what === "lift" ? { word: "out" } : { word: "check", k: next.i });
  }
}
laneBoxes.forEach((box) => {
  const k = Number(box.dataset.lane);
  box.querySelector(".act").addEventListener("click", () => press(k));
  box.querySelector(".lift").addEventListener("click", () => add(k, { word: "out" }));
  box.querySelector(".undo").addEventListener("click", () => {
    change((kept) => {
      const gone = (kept.lanes[k] || []).pop();
      if (gone) kept.log.push({ what: lanes[k].name + ": " + saidOf(k, gone), word: "undone", at: Date.now() });
    });
    tick();
  });
  // A depth that is typed before the button is pressed was measured now.
  all("[data-keep*='.depth.']", box).forEach((input, i) => input.addEventListener("input", () => {
    const run = courseOf(k), check = lanes[k].checks.filter((one) => one[0] !== "lift")[i];
    const place = lanes[k].checks.indexOf(check);
    if (run.since && !(place in run.checks) && input.value.trim()) add(k, { word: "check", k: place });
  }));
});

// The one of the clocked steps that is due now stands on the screen, the others wait behind it.
const spanned = all("article.step").filter((step) => ["lower", "keep", "look", "gauge", "lift"].includes(step.dataset.act));
function drawSpan(running) {
  const first = running.filter((one) => one.element.dataset.lane !== String(COUPON)).sort((a, b) => a.due - b.due)[0];
  const runs = lanes.map((lane, k) => (k === COUPON ? null : courseOf(k))).filter(Boolean);
  let act = runs.some((run) => !run.begun) ? "lower" : "lift", i = 0;
  if (first) {
    act = { look: "look", measure: "gauge", lift: "lift" }[first.what];
    i = lanes[Number(first.element.dataset.lane)].checks.slice(0, first.i).filter((check) => check[0] === first.what).length;
  }
  const same = spanned.filter((step) => step.dataset.act === act);
  spanned.forEach((step) => step.classList.toggle("aside", !(step === (same[i] || same[0]) || (first && step.dataset.act === "keep"))));
}

// ---- timers of steps that no piece's clock covers; nothing but their own button stops them
const timerOf = (element) => state.timers[element.dataset.timer] || { start: 0, stop: 0, log: [] };
function drawTimer(element) {
  const timer = timerOf(element), target = Number(element.dataset.target);
  const runs = timer.start > 0 && !timer.stop;
  const gone = timer.start ? ((timer.stop || Date.now()) - timer.start) / 1000 : 0, over = gone - target;
  put(element.querySelector(".clock"), clock(gone));
  let word = "";
  if (timer.start && over >= 0) word = "OVER by " + clock(over);
  else if (runs) word = "running";
  else if (timer.stop) word = "stopped " + clock(-over) + " before its time";
  say(element.querySelector(".word"), word);
  element.classList.toggle("over", over >= 0 && timer.start > 0);
  put(element.querySelector(".start"), runs ? "Stop the timer" : timer.start ? "Go on" : "Start the timer");
  put(element.querySelector(".log"), timer.log.map((entry) => entry.word + " " + hour(entry.at)).join("\n"));
  if (runs && over >= 0) ring(element.dataset.timer + "@" + timer.start);
  return runs ? { name: element.dataset.name, gone, target, over: over >= 0, element } : null;
}
function onTimer(element, work) {
  change((kept) => {
    const name = element.dataset.timer;
    work(kept.timers[name] = kept.timers[name] || { start: 0, stop: 0, log: [] }, Date.now());
  });
  tick();
}
timers.forEach((element) => {
  element.querySelector(".start").addEventListener("click", () => {
    wake();
    onTimer(element, (timer, now) => {
      if (!timer.start) { timer.start = now; timer.stop = 0; timer.log.push({ word: "started", at: now }); }
      else if (timer.stop) { timer.start += now - timer.stop; timer.stop = 0; timer.log.push({ word: "went on", at: now }); }
      else { timer.stop = now; timer.log.push({ word: "stopped", at: now }); }
    });
  });
  element.querySelector(".reset").addEventListener("click", () => {
    if (timerOf(element).start && !window.confirm("Set this timer back to nothing? Its times stay in the log.")) return;
    onTimer(element, (timer, now) => {
      if (timer.start) timer.log.push({ word: "set back", at: now });
      timer.start = 0; timer.stop = 0;
    });
  });
});

function tick() {
  const onLanes = laneBoxes.map(drawLane).filter(Boolean);
  drawSpan(onLanes);
  const running = onLanes.concat(timers.map(drawTimer).filter(Boolean));
  const bar = byId("running");
  bar.hidden = running.length === 0;
  if (bar.childElementCount !== running.length) {
    bar.replaceChildren(...running.map(() => {
      const link = document.createElement("a");
      link.href = "#"; link.append(document.createElement("span"), document.createElement("b"));
      return link;
    }));
  }
  running.forEach((entry, k) => {
    const link = bar.children[k], name = entry.name;
    put(link.firstChild, name.length > 42 ? name.slice(0, 41) + "…" : name);
    put(link.lastChild, clock(entry.gone) + (entry.target ? " of " + clock(entry.target) : ""));
    link.classList.toggle("over", entry.over);
    link.onclick = (event) => {
      event.preventDefault();
      const unit = entry.element.closest(".unit");
      if (walking && unit) go(Number(unit.dataset.screen));
      entry.element.scrollIntoView({ block: "center" });
    };
  });
  showSums();
  autoTick();
}
// A clocked step is ticked once every batch is past it.
function autoTick() {
  const runs = lanes.map((lane, k) => (k === COUPON ? null : courseOf(k))).filter(Boolean);
  if (!runs.length) return;
  const every = { lower: runs.every((run) => run.begun), lift: runs.every((run) => run.ended) };
  every.keep = every.lift;
  every.look = every.gauge = every.lift;
  spanned.forEach((step) => {
    const box = step.querySelector(":scope > .tick input");
    const name = "auto." + step.dataset.step;
    if (!every[step.dataset.act] || state.rung[name]) return;
    change((kept) => { kept.rung[name] = Date.now(); });
    if (!box.checked) { box.checked = true; box.dispatchEvent(new Event("change")); }
  });
}
