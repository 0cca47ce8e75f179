// ---- sums: from what was typed and timed, each with its formula
const bench = JSON.parse(document.body.dataset.bench);
const lanes = bench ? bench.lanes : [];
const COUPON = lanes.findIndex((lane) => lane.name === "coupon");

function numberOf(text) {
  const plain = String(text || "").trim().replace(",", ".");
  if (!plain) return null;
  return /^[0-9]*\.?[0-9]+$/.test(plain) ? Number(plain) : NaN;
}
const typed = (name) => {
  const value = numberOf(state.values[name]);
  return value !== null && value > 0 ? value : null;
};
const sig = (value, digits) => String(Number(value.toPrecision(digits || 3)));
const clock = (seconds) => {
  const s = Math.floor(Math.abs(seconds)), h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
  const two = (n) => String(n).padStart(2, "0");
  return (h ? h + ":" + two(m) : String(m)) + ":" + two(s % 60);
};
const mean = (values) => values.reduce((a, b) => a + b, 0) / values.length;
const readings = (names) => names.map(typed).filter((value) => value !== null);

function couponDepths() { return readings(["coupon-depth.0", "coupon-depth.1", "coupon-depth.2"]); }
function couponSeconds() {
  const minutes = typed("coupon-etch.0");
  if (minutes) return 60 * minutes;
  const run = COUPON < 0 ? null : courseOf(COUPON);
  return run && run.ended ? run.bath : null;
}
function couponRate() {
  const depths = couponDepths(), seconds = couponSeconds();
  if (!depths.length || !seconds) return null;
  return { depth: mean(depths), seconds, rate: 60 * mean(depths) / seconds };
}
function depthsOf(piece) { return readings([1, 2, 3].map((k) => "piece." + piece + ".d" + k)); }
function lossOf(piece) {
  const before = typed("piece." + piece + ".before"), after = typed("piece." + piece + ".after");
  return before && after ? { before, after, loss: Number((before - after).toPrecision(6)) } : null;
}
const laneOf = (piece) => lanes.findIndex((lane) => lane.pieces.includes(piece));
function secondsOf(piece) {
  const run = courseOf(laneOf(piece));
  return run.ended ? run.bath : null;
}
const pieces = lanes.filter((lane, k) => k !== COUPON).flatMap((lane) => lane.pieces);

// The depth last measured in a batch's own bath, and after how long.
function gauged(k) {
  const run = courseOf(k);
  if (run.ended) {
    const depths = lanes[k].pieces.flatMap(depthsOf);
    if (depths.length) return { depth: mean(depths), seconds: run.bath };
  }
  let found = null;
  lanes[k].checks.forEach((check, i) => {
    const depth = typed("lane." + k + ".depth." + i), at = run.checks[i];
    if (depth && at) found = { depth, seconds: at };
  });
  return found;
}
// How fast the bath is against the plan, by the newest batch before this one, else by the coupon.
function pace(k) {
  for (let j = k - 1; j >= 0; j -= 1) {
    if (j === COUPON || !lanes[j].time_s) continue;
    const found = gauged(j);
    if (found) return { ratio: (found.depth / found.seconds) / (bench.depth_um / lanes[j].time_s), by: lanes[j].name };
  }
  const coupon = couponRate();
  return coupon ? { ratio: coupon.rate / bench.rate_um_per_min, by: "the coupon" } : null;
}
// How long a batch is to be in the bath, why, and between which times.
function aim(k) {
  const lane = lanes[k], planned = lane.time_s;
  if (k !== COUPON) {
    const found = gauged(k);
    if (found && !courseOf(k).ended) return aimByDepth(found);
    const paced = planned ? pace(k) : null;
    if (paced) {
      return { seconds: planned / paced.ratio, words: "Time = planned " + clock(planned) + " / " +
        sig(paced.ratio) + " (rate by " + paced.by + " over the planned rate) = " + clock(planned / paced.ratio) };
    }
  }
  return { seconds: planned, words: planned ? "" : "The bath is used up before: make up a fresh one." };
}
function aimByDepth(found) {
  const wanted = bench.depth_um, d = found.depth, t = found.seconds;
  const error = Math.max(bench.gauge_share * d, bench.gauge_um);
  if (error >= d) {
    return { seconds: null, words: "A depth of " + sig(d) + " µm, which may be " + sig(error) + " µm off, tells no rate: etch on and measure again." };
  }
  const left = (depth) => Math.max(0, t * (wanted - depth) / depth);
  if (d >= wanted) return { seconds: t, words: "The depth is there: " + sig(d) + " of " + sig(wanted) + " µm. Lift it out." };
  return { seconds: t + left(d), low: t + left(d + error), high: t + left(d - error),
    words: "Time left = " + clock(t) + " × (" + sig(wanted) + " − " + sig(d) + ") / " + sig(d) + " = " + clock(left(d)) +
      ", from " + clock(left(d + error)) + " to " + clock(left(d - error)) + ", the depth being " + sig(error, 2) +
      " µm off at most. Lift at " + clock(t + left(d)) + "." };
}
// The metal that the bath has taken so far: weighed where it was, planned where it was not.
function metalSoFar() {
  const done = pieces.filter((piece) => secondsOf(piece) !== null || lossOf(piece));
  if (!done.length) return null;
  const losses = done.map((piece) => (lossOf(piece) ? lossOf(piece).loss : bench.loss_g));
  const guessed = done.filter((piece) => !lossOf(piece)).length;
  const grams = losses.reduce((a, b) => a + b, 0);
  return { grams, guessed, g_per_l: bench.start_g_per_l + grams / bench.bath_l };
}
const SUMS = {
  rate() {
    const found = couponRate();
    return found && "Rate = " + sig(found.depth) + " µm / " + clock(found.seconds) + " = " + sig(found.rate) +
      " µm/min; planned " + sig(bench.rate_um_per_min) + " µm/min";
  },
  undercut() {
    const resist = typed("coupon-stroke.0"), metal = typed("coupon-stroke.1");
    if (!resist || !metal) return "";
    if (metal < resist) return "The stroke in the metal is narrower than in the resist: measure again.";
    return "Undercut = (" + metal + " − " + resist + ") / 2 = " + sig(500 * (metal - resist)) + " µm an edge";
  },
  factor() {
    const under = 500 * (typed("coupon-stroke.1") - typed("coupon-stroke.0")), depths = couponDepths();
    if (!(under > 0) || !depths.length || !typed("coupon-stroke.0")) return "";
    const factor = mean(depths) / under;
    return "Etch factor = " + sig(mean(depths)) + " µm / " + sig(under) + " µm = " + sig(factor) + "; at full depth the undercut is " +
      sig(bench.depth_um) + " / " + sig(factor) + " = " + sig(bench.depth_um / factor) + " µm, planned " + sig(bench.undercut_um) + " µm";
  },
  times() {
    if (!couponRate()) return "";
    const rows = lanes.map((lane, k) => (k === COUPON || !lane.time_s ? "" : lane.name + " " + clock(aim(k).seconds))).filter(Boolean);
    return "Time = planned time × " + sig(bench.rate_um_per_min) + " / " + sig(couponRate().rate) + ": " + rows.join(", ");
  },
  loss(element) {
    const found = lossOf(element.dataset.piece);
    if (!found) return "";
    if (found.loss < 0) return "It weighs more than before: weigh it again.";
    return "Loss = " + found.before + " − " + found.after + " = " + sig(found.loss) + " g; mean depth = " + sig(found.loss) + " / " +
      sig(bench.loss_g) + " × " + sig(bench.depth_um) + " = " + sig(found.loss / bench.loss_g * bench.depth_um) + " µm";
  },
  bath() {
    const found = metalSoFar();
    return found && "Metal in the bath = " + sig(bench.start_g_per_l) + " + " + sig(found.grams) + " g / " + sig(bench.bath_l) + " L = " +
      sig(found.g_per_l) + " g/L" + (found.guessed ? "; pieces not weighed, " + found.guessed + ", count as planned" : "");
  },
  left(element) { return aim(Number(element.closest(".lane").dataset.lane)).words; },
  "factor-done"() {
    const under = typed("result.undercut_um"), all = whole();
    return under && all.depth ? "Etch factor = " + sig(all.depth) + " / " + sig(under) + " = " + sig(all.depth / under) : "";
  },
};
// What all pieces come to: those with both a depth and a time.
function whole() {
  const done = pieces.filter((piece) => depthsOf(piece).length && secondsOf(piece));
  const every = done.flatMap(depthsOf), found = {};
  if (done.length) {
    found.depth = mean(done.map((piece) => mean(depthsOf(piece))));
    found.seconds = mean(done.map(secondsOf));
    const middle = mean(every);
    if (every.length > 1) found.sd = Math.sqrt(every.reduce((a, b) => a + (b - middle) ** 2, 0) / (every.length - 1));
  }
  const losses = pieces.map(lossOf);
  if (losses.length && losses.every(Boolean)) found.metal = losses.reduce((a, b) => a + b.loss, 0);
  found.good = pieces.filter((piece) => state.ticks["piece." + piece + ".good"]).length;
  return found;
}
function outOf(name) {
  const all = whole(), dot = name.lastIndexOf("."), piece = name.slice(0, dot), what = name.slice(dot + 1);
  if (piece === "all") {
    const value = { depth_um: all.depth, depth_sd_um: all.sd, time_min: all.seconds && all.seconds / 60, pieces: all.good, metal_g: all.metal }[what];
    return value ? sig(value) : "–";
  }
  if (what === "in" || what === "out") {
    const found = eventsOf(laneOf(piece)).filter((event) => event.word === what);
    return found.length ? hour(found[what === "in" ? 0 : found.length - 1].at).slice(0, 5) : "";
  }
  if (piece === "coupon") {
    if (what === "depth") return couponDepths().map((d) => sig(d)).join(" ");
    return what === "time" && couponSeconds() ? clock(couponSeconds()) : "";
  }
  const loss = lossOf(piece), depths = depthsOf(piece), seconds = secondsOf(piece);
  if (what === "before" || what === "after") return state.values["piece." + piece + "." + what] || "";
  if (what === "loss") return loss ? sig(loss.loss) : "";
  if (what === "time") return seconds ? clock(seconds) : "";
  return depths.length ? depths.join(" ") + " µm, mean " + sig(mean(depths)) : "";
}
function showSums() {
  all("[data-sum]").forEach((element) => {
    const words = SUMS[element.dataset.sum](element) || "";
    if (element.textContent !== words) element.textContent = words;
    element.hidden = !words;
  });
  all("[data-out]").forEach((element) => {
    const words = outOf(element.dataset.out);
    if (element.textContent !== words) element.textContent = words;
  });
}
