"use strict";
(function () {
  const body = document.body;
  const key = "stopout-sheet-" + body.dataset.key;
  const byId = (id) => document.getElementById(id);
  const all = (selector, root) => Array.from((root || document).querySelectorAll(selector));
  let state = { ticks: {}, values: {}, timers: {}, at: 0, walking: false, theme: "" };
  let keeps = true;

  function load() {
    try {
      const text = localStorage.getItem(key);
      if (text) state = Object.assign(state, JSON.parse(text));
      localStorage.setItem(key + "-try", "1");
      localStorage.removeItem(key + "-try");
    } catch (error) {
      keeps = false;
    }
    if (!keeps) {
      byId("kept").textContent =
        "This browser keeps nothing: ticks and values are lost when the page is closed. Save them before.";
      byId("kept").hidden = false;
    }
  }
  function keep() {
    if (!keeps) return;
    try { localStorage.setItem(key, JSON.stringify(state)); } catch (error) { keeps = false; }
  }

  // ---- ticks and values
  function fill() {
    all("[data-keep]").forEach((input) => {
      const name = input.dataset.keep;
      if (input.type === "checkbox") {
        input.checked = Boolean(state.ticks[name]);
        input.addEventListener("change", () => {
          if (input.checked) state.ticks[name] = new Date().toISOString();
          else delete state.ticks[name];
          if (input.checked) stopTimersOf(input.closest(".step"));
          keep(); progress();
        });
      } else {
        input.value = state.values[name] || "";
        input.addEventListener("input", () => {
          if (input.value) state.values[name] = input.value; else delete state.values[name];
          keep(); progress();
        });
      }
    });
  }
  const units = all(".unit");
  function isDone(unit) {
    const ticks = all("input[type=checkbox]", unit);
    const hold = unit.querySelector(".hold");
    const signed = !hold || all("input[type=text]", hold).every((input) => input.value.trim());
    return ticks.every((tick) => tick.checked) && signed;
  }
  function progress() {
    let done = 0;
    units.forEach((unit) => {
      const is = isDone(unit);
      unit.classList.toggle("done", is);
      if (is) done += 1;
    });
    byId("progress").textContent = done + " of " + units.length + " steps and holds done";
    // A step that counts as done must be ticked by hand: only a hold is closed by what it asks for.
    const unit = units[state.at];
    if (unit && unit.querySelector(".hold")) byId("next").disabled = !isDone(unit);
    else byId("next").disabled = false;
  }

  function stopTimersOf(step) {
    if (!step) return;
    all(".timer", step).forEach((element) => {
      const timer = timerOf(element);
      if (timer.start && !timer.stop) {
        timer.stop = Date.now();
        timer.log.push({ word: "stopped with the step", at: timer.stop });
      }
    });
    tick();
  }

  // ---- one step at a time
  function show() {
    body.classList.toggle("walking", state.walking);
    byId("walk").hidden = !state.walking;
    byId("view").textContent = state.walking ? "Whole sheet" : "One step at a time";
    byId("view").setAttribute("aria-pressed", String(state.walking));
    all(".here").forEach((element) => element.classList.remove("here"));
    if (state.walking && units.length) {
      state.at = Math.min(Math.max(state.at, 0), units.length - 1);
      const unit = units[state.at], section = unit.closest("section");
      unit.classList.add("here");
      section.classList.add("here");
      section.querySelector("h2").classList.add("here");
      byId("place").textContent = state.at + 1 + " of " + units.length;
      byId("back").disabled = state.at === 0;
      byId("next").textContent = unit.querySelector(".hold") ? "Signed, next" : "Done, next";
    }
    progress();
  }
  function go(to) {
    state.at = to; keep(); show();
    window.scrollTo(0, 0);
    const unit = units[state.at];
    if (unit) unit.closest("section").querySelector("h2").focus({ preventScroll: true });
  }
  function next() {
    const unit = units[state.at];
    const tick = unit.querySelector(".step > .tick input");
    if (tick && !tick.checked) { tick.checked = true; tick.dispatchEvent(new Event("change")); }
    if (state.at + 1 < units.length) go(state.at + 1); else { state.walking = false; keep(); show(); }
  }

  // ---- timers: the clock is that of the machine, so that sleep and reload lose nothing
  const timers = all(".timer");
  const clock = (seconds) => {
    const s = Math.floor(Math.abs(seconds)), h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
    const two = (n) => String(n).padStart(2, "0");
    return (h ? h + ":" + two(m) : String(m)) + ":" + two(s % 60);
  };
  const hour = (stamp) => new Date(stamp).toTimeString().slice(0, 8);
  let sound = null;
  function call() {
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
  function timerOf(element) {
    const name = element.dataset.timer;
    if (!state.timers[name]) state.timers[name] = { start: 0, stop: 0, log: [], called: false };
    return state.timers[name];
  }
  function draw(element) {
    const timer = timerOf(element), target = Number(element.dataset.target);
    const runs = timer.start > 0 && !timer.stop;
    const gone = timer.start ? ((timer.stop || Date.now()) - timer.start) / 1000 : 0;
    const over = gone - target;
    element.querySelector(".clock").textContent = clock(gone);
    let word = "";
    if (timer.start && over >= 0) word = "OVER by " + clock(over) + (runs ? ": take it out" : "");
    else if (runs) word = "running";
    else if (timer.stop) word = "stopped " + clock(-over) + " before its time";
    const said = element.querySelector(".word");
    const plain = word.replace(/[\d:]+/g, "");
    // Only a change of words is read out, not every second.
    if (said.dataset.plain !== plain) {
      said.dataset.plain = plain; said.setAttribute("role", "status");
    } else said.setAttribute("role", "presentation");
    if (said.textContent !== word) said.textContent = word;
    element.classList.toggle("over", over >= 0 && timer.start > 0);
    const start = element.querySelector(".start");
    start.textContent = runs ? "Stop the timer" : timer.start ? "Go on" : "Start the timer";
    element.querySelector(".log").textContent = timer.log
      .map((entry) => entry.word + " " + hour(entry.at)).join("\n");
    if (runs && over >= 0 && !timer.called) { timer.called = true; keep(); call(); }
    return runs ? { name: element.dataset.name, gone: gone, target: target, over: over >= 0,
                    element: element } : null;
  }
  function tick() {
    const running = timers.map(draw).filter(Boolean);
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
      link.firstChild.textContent = name.length > 42 ? name.slice(0, 41) + "…" : name;
      link.lastChild.textContent = clock(entry.gone) + " of " + clock(entry.target);
      link.classList.toggle("over", entry.over);
      link.onclick = (event) => {
        event.preventDefault();
        const unit = entry.element.closest(".unit");
        if (state.walking && unit) go(units.indexOf(unit));
        else entry.element.scrollIntoView({ block: "center" });
      };
    });
  }
  timers.forEach((element) => {
    element.querySelector(".start").addEventListener("click", () => {
      const timer = timerOf(element), now = Date.now();
      try { sound = sound || new (window.AudioContext || window.webkitAudioContext)(); } catch (e) { sound = null; }
      if (!timer.start) { timer.start = now; timer.stop = 0; timer.log.push({ word: "started", at: now }); }
      else if (timer.stop) {
        timer.start += now - timer.stop; timer.stop = 0; timer.log.push({ word: "went on", at: now });
      } else { timer.stop = now; timer.log.push({ word: "stopped", at: now }); }
      keep(); tick();
    });
    element.querySelector(".reset").addEventListener("click", () => {
      const timer = timerOf(element);
      if (timer.start && !window.confirm("Set this timer back to nothing? Its times stay in the log.")) return;
      if (timer.start) timer.log.push({ word: "set back", at: Date.now() });
      timer.start = 0; timer.stop = 0; timer.called = false;
      keep(); tick();
    });
  });

  // ---- saving
  function save(name, content) {
    const text = JSON.stringify(content, null, 2) + "\n";
    byId("text").value = text;
    byId("text").hidden = false; byId("text-label").hidden = false;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.download = name;
    link.click();
    window.setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    byId("said").textContent = "Saved as " + name + ".";
  }
  const slug = (text) => text.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "") || "job";
  function everything() {
    const ticked = all("input[type=checkbox][data-keep]").filter((input) => input.checked)
      .map((input) => ({ what: input.parentElement.textContent.trim(), at: state.ticks[input.dataset.keep] }));
    const values = all("input[type=text][data-keep]").filter((input) => input.value.trim())
      .map((input) => ({ what: input.dataset.of, value: input.value.trim() }));
    const runs = timers.filter((element) => timerOf(element).log.length).map((element) => ({
      what: element.dataset.name, target_s: Number(element.dataset.target),
      log: timerOf(element).log.map((entry) => ({ word: entry.word, at: new Date(entry.at).toISOString() })),
    }));
    return { format: "stopout-bench-1", job: body.dataset.job, revision: body.dataset.revision,
             sheet: body.dataset.key, saved: new Date().toISOString(), ticked, values, timers: runs };
  }
  function record() {
    const block = document.querySelector(".result");
    const known = JSON.parse(block.dataset.known);
    const typed = {}, wrong = [];
    all("[data-result]", block).forEach((input) => {
      const text = input.value.trim().replace(",", ".");
      if (!text) return;
      const label = input.labels[0].textContent;
      if (["bath", "note"].includes(input.dataset.result)) typed[input.dataset.result] = input.value.trim();
      else if (!/^[0-9]+(\.[0-9]+)?$/.test(text)) wrong.push(label + ": a number is due");
      else typed[input.dataset.result] = Number(text);
    });
    ["depth_um", "time_min"].forEach((name) => {
      if (!(name in typed) && !wrong.length) wrong.push("depth and time in the bath are needed");
    });
    if (wrong.length) { byId("said").textContent = wrong.join("; "); block.scrollIntoView(); window.alert(wrong.join("; ")); return; }
    const round = (value) => Number(value.toPrecision(6));
    const content = Object.assign({ format: "stopout-record-1", date: today() }, known);
    content.depth_mm = "depth_sd_um" in typed
      ? [round(typed.depth_um / 1000), round(typed.depth_sd_um / 1000)] : round(typed.depth_um / 1000);
    content.time_s = round(60 * typed.time_min);
    if ("temperature_degc" in typed) content.temperature_degc = typed.temperature_degc;
    if ("undercut_um" in typed) content.undercut_mm = round(typed.undercut_um / 1000);
    if ("pieces" in typed) content.pieces = Math.round(typed.pieces);
    if ("metal_g" in typed) content.metal_removed_g = typed.metal_g;
    ["bath", "note"].forEach((name) => { if (typed[name]) content[name] = typed[name]; });
    save(slug(body.dataset.job) + "-record.json", content);
  }
  function today() {
    const day = new Date(), two = (n) => String(n).padStart(2, "0");
    return day.getFullYear() + "-" + two(day.getMonth() + 1) + "-" + two(day.getDate());
  }

  // ---- light and dark
  function paint() {
    if (state.theme) document.documentElement.dataset.theme = state.theme;
    const dark = state.theme ? state.theme === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
    byId("theme").textContent = dark ? "Light" : "Dark";
    return dark;
  }

  if (!byId("view")) return; // a sheet that says STOP has nothing to keep
  load(); fill(); paint(); show(); tick();
  window.setInterval(tick, 500);
  document.addEventListener("visibilitychange", tick);
  byId("view").addEventListener("click", () => { state.walking = !state.walking; keep(); show(); window.scrollTo(0, 0); });
  byId("theme").addEventListener("click", () => { state.theme = paint() ? "light" : "dark"; keep(); paint(); });
  byId("back").addEventListener("click", () => go(state.at - 1));
  byId("next").addEventListener("click", next);
  byId("save-all").addEventListener("click", () => save(slug(body.dataset.job) + "-bench.json", everything()));
  if (byId("save-record")) byId("save-record").addEventListener("click", record);
  byId("clear").addEventListener("click", () => {
    if (!window.confirm("Clear all ticks, values and timers of this sheet?")) return;
    state = { ticks: {}, values: {}, timers: {}, at: 0, walking: false, theme: state.theme };
    keep(); window.location.reload();
  });
  document.querySelector('a[href="#emergency"]').addEventListener("click", () => {
    if (state.walking) { state.walking = false; keep(); show(); }
  });
})();
