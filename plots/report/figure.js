"use strict";
// patternFigure draws a scan with the shares of its phases on a canvas that zooms, and says in a line of text what lies under the
// pointer. The report and the page of a session share it. hooks may hold: colours() of the surroundings; select(lo, hi), a range that was
// dragged over, instead of zooming; pick(angle), a click; view(lo, hi), after every zoom.
const patternFigure = (canvas, readout, hooks = {}) => {
let data, n, whole, shares, totals, lines, most;
const pen = canvas.getContext("2d");
const state = {lo: 0, hi: 1, scale: "sqrt", hidden: new Set(), hover: null, drag: null, masks: [], preview: null, top: 0};
const light = {paper: "#fff", ink: "#16191c", quiet: "#4b545c", line: "#dfe4e8", shade: "#eef0f2", curve: "#3c444b", residual: "#4a5259", zero: "#aab3ba", accent: "#0b5c8a", alarm: "#a33b00"};
let ink = light;

// load shows other data; the view stays where it is unless the range of the scan has changed.
function load(next, from) {
  data = next; n = data.x.length;
  const all = data.whole ?? [data.x[0], data.x[n - 1]];
  if (!whole || all[0] !== whole[0] || all[1] !== whole[1]) { whole = all; state.lo = all[0]; state.hi = all[1]; }
  if (from) { state.lo = from[0]; state.hi = from[1]; }
  // Each phase's share as a full column; gaps are zero.
  shares = data.phases.map(p => full(p.runs));
  lines = data.phases.flatMap((p, k) => p.lines.map(l => ({...l, phase: k}))).sort((a, b) => a.t - b.t);
  most = data.phases.map(p => Math.max(...p.lines.map(l => l.e), 1e-12));
  state.preview = data.preview ? full(data.preview) : null;
  add();
}
function full(runs) {
  const v = new Float64Array(n);
  for (const r of runs) v.set(r.v, r.i);
  return v;
}
// add sums background and shown phases once, for they are asked for at every point of every step of a zoom.
function add() {
  totals = Float64Array.from(data.bg);
  for (const [k, v] of shares.entries()) if (!state.hidden.has(k)) for (let i = 0; i < n; i++) totals[i] += v[i];
}
// hatch returns a fill pattern that tells a phase from the others without colour.
const hatches = [[45], [-45], [0], [45, -45], [0], [20], [0, 60, -60], [-20]], dashed = [4, 7];
const tiles = new Map();
function hatch(colour, kind, scale) {
  const known = tiles.get(colour + scale + ink.paper);
  if (known) return known;
  const tile = document.createElement("canvas"), size = 8 * scale;
  tile.width = tile.height = size;
  const t = tile.getContext("2d");
  t.globalAlpha = .45; t.fillStyle = colour; t.fillRect(0, 0, size, size);
  t.globalAlpha = 1; t.strokeStyle = colour; t.lineWidth = scale;
  if (dashed.includes(kind)) t.setLineDash([size / 2, size / 2]);
  for (const angle of hatches[kind % hatches.length]) {
    const a = -angle * Math.PI / 180, dx = Math.cos(a) * 2 * size, dy = Math.sin(a) * 2 * size;
    for (const s of [-1, 0, 1]) {
      const x = size / 2 + (Math.abs(angle) > 30 ? s * size : 0), y = size / 2 + (Math.abs(angle) > 30 ? 0 : s * size);
      t.beginPath(); t.moveTo(x - dx, y - dy); t.lineTo(x + dx, y + dy); t.stroke();
    }
  }
  tiles.set(colour + scale + ink.paper, pen.createPattern(tile, "repeat"));
  return tiles.get(colour + scale + ink.paper);
}

const spacing = t => data.wavelength / (2 * Math.sin(t * Math.PI / 360));
const angleOf = d => 2 * Math.asin(data.wavelength / (2 * d)) * 180 / Math.PI;
const bend = v => state.scale === "sqrt" ? Math.sign(v) * Math.sqrt(Math.abs(v)) : state.scale === "log" ? Math.log10(Math.max(v, 1)) : v;
const index = t => { let a = 0, b = n; while (a < b) { const m = (a + b) >> 1; data.x[m] < t ? a = m + 1 : b = m; } return a; };
const number = (v, digits) => v.toFixed(digits).replace("-", "−");

const font = "12px system-ui, 'Liberation Sans', Arial, sans-serif";
let frame = {};
function layout() {
  const scale = window.devicePixelRatio || 1, w = canvas.clientWidth, h = canvas.clientHeight;
  if (canvas.width !== Math.round(w * scale) || canvas.height !== Math.round(h * scale)) {
    canvas.width = Math.round(w * scale); canvas.height = Math.round(h * scale);
  }
  const lanes = Math.min(16 * data.phases.length, .25 * h), left = margin(), right = w - 12, foot = h - 40, res = Math.max(70, .16 * h);
  frame = {scale, w, h, left, right, top: 34, foot, resTop: foot - res, laneTop: foot - res - 12 - lanes, lane: data.phases.length ? lanes / data.phases.length : 0, bottom: foot - res - 16 - lanes};
}
// margin is as wide as the longest phase name, within reason.
function margin() {
  pen.font = font;
  return Math.min(Math.max(62, ...data.phases.map(p => pen.measureText(p.name).width + 12)), .25 * canvas.clientWidth);
}
const px = t => frame.left + (t - state.lo) / (state.hi - state.lo) * (frame.right - frame.left);
const angleAt = x => state.lo + (x - frame.left) / (frame.right - frame.left) * (state.hi - state.lo);

// columns gathers, for each pixel column, the indices of least and greatest value, so that no peak is lost.
function columns(value, from, to) {
  const keep = [];
  for (let i = from; i < to;) {
    const c = Math.floor(px(data.x[i]));
    let least = i, greatest = i;
    for (; i < to && Math.floor(px(data.x[i])) === c; i++) {
      if (value[i] < value[least]) least = i;
      if (value[i] > value[greatest]) greatest = i;
    }
    keep.push(Math.min(least, greatest));
    if (least !== greatest) keep.push(Math.max(least, greatest));
  }
  return keep;
}

function ticks(lo, hi, count) {
  const raw = (hi - lo) / Math.max(count, 1), p = 10 ** Math.floor(Math.log10(raw)), step = [1, 2, 5, 10].find(m => m * p >= raw * .999) * p, out = [];
  for (let k = Math.ceil(lo / step); k * step <= hi + step * 1e-9; k++) out.push(+(k * step).toPrecision(10));
  return out;
}

const colourOf = p => ink.dark && p.dark || p.colour;

function draw() {
  if (!data) return;
  layout();
  const f = frame;
  pen.setTransform(f.scale, 0, 0, f.scale, 0, 0);
  ink = hooks.colours ? {...light, ...hooks.colours()} : light;
  pen.fillStyle = ink.paper; pen.fillRect(0, 0, f.w, f.h);
  pen.font = font; pen.lineJoin = "round";
  const from = Math.max(0, index(state.lo) - 1), to = Math.min(n, index(state.hi) + 2);
  let top = 1, bottom = 0;
  for (let i = from; i < to; i++) { if (data.obs[i] > top) top = data.obs[i]; if (data.obs[i] < bottom) bottom = data.obs[i]; }
  top = Math.max(state.top, top) * {sqrt: 1.12, linear: 1.06, log: 1.6}[state.scale];
  const py = v => f.bottom - (bend(v) - bend(bottom)) / (bend(top) - bend(bottom)) * (f.bottom - f.top);
  axes(py, bottom, top);
  pen.save();
  pen.beginPath(); pen.rect(f.left, f.top - 2, f.right - f.left, f.foot - f.top + 4); pen.clip();
  stack(py, from, to);
  ahead(py, from, to);
  lozenges(py, from, to);
  sticks();
  residual(from, to);
  masks();
  overlay();
  pen.restore();
  names();
  canvas.dataset.lo = state.lo.toFixed(4); canvas.dataset.hi = state.hi.toFixed(4); canvas.dataset.left = f.left; canvas.dataset.right = f.right;
}

function text(s, x, y, align, colour) { pen.textAlign = align; pen.fillStyle = colour || ink.quiet; pen.fillText(s, x, y); }
function rule(x1, y1, x2, y2, colour, width) { pen.beginPath(); pen.moveTo(x1, y1); pen.lineTo(x2, y2); pen.strokeStyle = colour; pen.lineWidth = width || 1; pen.stroke(); }

function axes(py, bottom, top) {
  const f = frame;
  let marks = state.scale === "linear" ? ticks(bottom, top, 6) : [];
  if (state.scale !== "linear") {
    const all = state.scale === "log" ? [] : [0];
    for (let p = 10 ** Math.floor(Math.log10(top)), k = 0; k < (state.scale === "log" ? 8 : 4); k++, p /= 10) all.push(5 * p, 2 * p, p);
    for (const v of all) if (v <= top && (state.scale !== "log" || v >= 1) && marks.every(m => Math.abs(py(m) - py(v)) > 20)) marks.push(v);
  }
  for (const v of marks) { rule(f.left, py(v), f.right, py(v), ink.line); text(String(+v.toPrecision(6)), f.left - 6, py(v) + 4, "right"); }
  for (const v of ticks(state.lo, state.hi, (f.right - f.left) / 80)) { rule(px(v), f.foot, px(v), f.foot + 4, ink.ink); text(String(v), px(v), f.foot + 17, "center"); }
  text("2θ (°), " + data.tube + (/^[A-Z]/.test(data.tube) ? " Kα" : " Å"), (f.left + f.right) / 2, f.foot + 33, "center", ink.ink);
  rule(f.left, f.foot, f.right, f.foot, ink.ink); rule(f.left, f.top, f.right, f.top, ink.ink);
  let last = [];
  for (const d of [10, 5, 3, 2, 1.5, 1, 20, 4, 2.5, .8, .7, 7, 1.2, .9, 6, 3.5, 1.8, 1.1, 2.2, 1.6, 1.3, 2.8, 2.4, 2.1, 1.9, 1.7, 1.4, .85, .95, 3.2, 2.6, 2.3]) {
    const t = angleOf(d);
    if (t >= state.lo && t <= state.hi && last.every(x => Math.abs(x - px(t)) > 36) && px(t) < f.right - 50) { last.push(px(t)); rule(px(t), f.top, px(t), f.top - 4, ink.ink); text(String(d), px(t), f.top - 8, "center"); }
  }
  text("d (Å)", f.right, f.top - 8, "right", ink.ink);
  pen.save(); pen.translate(14, (f.top + f.bottom) / 2); pen.rotate(-Math.PI / 2); text(data.unit + {sqrt: ", √ scale", linear: ", linear scale", log: ", log scale"}[state.scale], 0, 0, "center", ink.ink); pen.restore();
  pen.save(); pen.translate(14, (f.resTop + f.foot) / 2); pen.rotate(-Math.PI / 2); text("residual (σ)", 0, 0, "center", ink.ink); pen.restore();
}

function stack(py, from, to) {
  const keep = columns(totals, from, to);
  let base = keep.map(i => data.bg[i]);
  for (const [k, p] of data.phases.entries()) {
    if (state.hidden.has(k)) continue;
    const crest = base.map((b, j) => b + shares[k][keep[j]]);
    pen.beginPath();
    keep.forEach((i, j) => j ? pen.lineTo(px(data.x[i]), py(crest[j])) : pen.moveTo(px(data.x[i]), py(crest[j])));
    for (let j = keep.length - 1; j >= 0; j--) pen.lineTo(px(data.x[keep[j]]), py(base[j]));
    pen.closePath(); pen.fillStyle = hatch(colourOf(p), p.hatch, frame.scale); pen.fill();
    base = crest;
  }
  curve(keep.map(i => [px(data.x[i]), py(data.bg[i])]), ink.quiet, 1, [4, 3]);
  curve(columns(data.obs, from, to).map(i => [px(data.x[i]), py(data.obs[i])]), ink.curve, 1);
  edge(keep, base, py);
}

// edge draws the top of the stack in the colour of the phase that gives most there, or narrow peaks would lose theirs.
function edge(keep, crest, py) {
  let owner = -1, piece = [];
  keep.forEach((i, j) => {
    let best = -1, share = 0;
    for (let k = 0; k < shares.length; k++) if (!state.hidden.has(k) && shares[k][i] > share) { best = k; share = shares[k][i]; }
    if (py(data.bg[i]) - py(crest[j]) < .3) best = -1;
    const point = [px(data.x[i]), py(crest[j])];
    if (best !== owner) {
      if (owner >= 0) curve(piece, colourOf(data.phases[owner]), 1.4);
      piece = j ? [[px(data.x[keep[j - 1]]), py(crest[j - 1])]] : [];
      owner = best;
    }
    piece.push(point);
  });
  if (owner >= 0) curve(piece, colourOf(data.phases[owner]), 1.4);
}

function curve(points, colour, width, dash) {
  pen.beginPath(); pen.setLineDash(dash || []); pen.strokeStyle = colour; pen.lineWidth = width;
  points.forEach(([x, y], j) => j ? pen.lineTo(x, y) : pen.moveTo(x, y));
  pen.stroke(); pen.setLineDash([]);
}

function lozenges(py, from, to) {
  for (const t of data.unexplained) {
    if (t < state.lo || t > state.hi) continue;
    let peak = 0;
    for (let i = Math.max(from, index(t - .15)); i < Math.min(to, index(t + .15)); i++) peak = Math.max(peak, data.obs[i]);
    const x = px(t), y = py(peak) - 12;
    pen.beginPath(); pen.moveTo(x, y - 6); pen.lineTo(x + 6, y); pen.lineTo(x, y + 6); pen.lineTo(x - 6, y); pen.closePath();
    pen.fillStyle = ink.paper; pen.fill(); pen.strokeStyle = ink.alarm; pen.lineWidth = 1.6; pen.stroke();
  }
}

// ahead lays over the fit what a phase would add that has not been taken yet.
function ahead(py, from, to) {
  if (!state.preview) return;
  let piece = [];
  for (const i of columns(totals, from, to)) {
    if (state.preview[i] > 0) { piece.push([px(data.x[i]), py(totals[i] + state.preview[i])]); continue; }
    if (piece.length) curve(piece, ink.alarm, 1.8);
    piece = [];
  }
  if (piece.length) curve(piece, ink.alarm, 1.8);
}

// masks shades the ranges that are left out.
function masks() {
  const f = frame;
  pen.save(); pen.globalAlpha = .35; pen.fillStyle = ink.zero;
  for (const [lo, hi] of state.masks) if (hi > state.lo && lo < state.hi) pen.fillRect(px(Math.max(lo, state.lo)), f.top, px(Math.min(hi, state.hi)) - px(Math.max(lo, state.lo)), f.foot - f.top);
  pen.restore();
}

function sticks() {
  const f = frame;
  for (const [k, p] of data.phases.entries()) {
    const base = f.laneTop + (k + 1) * f.lane;
    rule(f.left, base, f.right, base, ink.line);
    if (state.hidden.has(k)) continue;
    for (const l of p.lines) {
      if (l.t < state.lo || l.t > state.hi || l.e < .002 * most[k]) continue;
      if (l.m) { pen.beginPath(); pen.arc(px(l.t), base - f.lane / 2, 3.5, 0, 7); pen.strokeStyle = ink.ink; pen.lineWidth = 1.3; pen.stroke(); continue; }
      const s = l.e / most[k];
      rule(px(l.t), base, px(l.t), base - .9 * f.lane * (state.scale === "linear" ? s : Math.sqrt(s)), colourOf(p), 2);
    }
  }
}

function names() {
  const f = frame;
  for (const [k, p] of data.phases.entries()) {
    const y = f.laneTop + (k + 1) * f.lane - 3;
    if (f.lane < 11) break;
    let s = p.name;
    while (s.length > 1 && pen.measureText(s).width > f.left - 8) s = s.slice(0, -2) + "…";
    text(s, f.left - 5, y, "right", ink.ink);
  }
}

function residual(from, to) {
  const f = frame, limit = 6, ry = v => f.foot - (Math.max(-limit, Math.min(limit, v)) + limit) / (2 * limit) * (f.foot - f.resTop);
  pen.fillStyle = ink.shade; pen.fillRect(f.left, ry(3), f.right - f.left, ry(-3) - ry(3));
  rule(f.left, ry(0), f.right, ry(0), ink.zero);
  const keep = columns(data.res, from, to);
  let piece = [];
  for (const i of keep) {
    if (data.res[i] === null) { curve(piece, ink.residual, 1); piece = []; continue; }
    piece.push([px(data.x[i]), ry(data.res[i])]);
    if (Math.abs(data.res[i]) > limit) {
      const up = data.res[i] > 0, x = px(data.x[i]), y = up ? f.resTop : f.foot, s = up ? 6 : -6;
      pen.beginPath(); pen.moveTo(x, y); pen.lineTo(x - 4, y + s); pen.lineTo(x + 4, y + s); pen.fillStyle = ink.alarm; pen.fill();
    }
  }
  curve(piece, ink.residual, 1);
}

function overlay() {
  const f = frame;
  if (state.drag) { pen.save(); pen.globalAlpha = .18; pen.fillStyle = ink.accent; pen.fillRect(Math.min(state.drag.from, state.drag.to), f.top, Math.abs(state.drag.to - state.drag.from), f.foot - f.top); pen.restore(); }
  else if (state.hover !== null) rule(px(state.hover), f.top, px(state.hover), f.foot, ink.accent, 1);
}

// report says what lies under an angle.
function report(t) {
  if (!data) return;
  const i = Math.min(n - 1, index(t)), reach = Math.max(.15, (state.hi - state.lo) / 250);
  const near = lines.filter(l => Math.abs(l.t - t) <= reach && !state.hidden.has(l.phase)).sort((a, b) => Math.abs(a.t - t) - Math.abs(b.t - t)).slice(0, 3);
  let s = `2θ ${number(t, 3)}° · d ${number(spacing(t), 4)} Å · observed ${number(data.obs[i], 0)}`;
  if (data.res[i] !== null) s += ` · residual ${number(data.res[i], 1)} σ`;
  for (const l of near) s += ` · \u2068${data.phases[l.phase].name}\u2069 ${l.hkl}${l.m ? " (missing)" : ""}`;
  readout.textContent = s;
}

function zoom(lo, hi) {
  const least = Math.max(.2, 20 * (whole[1] - whole[0]) / (data.points ?? n));
  if (hi - lo < least) { const c = (lo + hi) / 2; lo = c - least / 2; hi = c + least / 2; }
  if (hi - lo > whole[1] - whole[0]) [lo, hi] = whole;
  if (lo < whole[0]) { hi += whole[0] - lo; lo = whole[0]; }
  if (hi > whole[1]) { lo -= hi - whole[1]; hi = whole[1]; }
  state.lo = lo; state.hi = hi; draw();
  hooks.view?.(lo, hi);
}
const scaleBy = (k, about) => { const c = about ?? (state.lo + state.hi) / 2; zoom(c - (c - state.lo) * k, c + (state.hi - c) * k); };

canvas.addEventListener("pointermove", e => {
  const x = e.offsetX;
  if (state.drag) state.drag.to = x;
  state.hover = x >= frame.left && x <= frame.right ? angleAt(x) : null;
  if (state.hover !== null) { readout.setAttribute("aria-live", "off"); report(state.hover); }
  draw();
});
canvas.addEventListener("pointerdown", e => { if (e.button === 0 && e.offsetX >= frame.left) { state.drag = {from: e.offsetX, to: e.offsetX}; canvas.setPointerCapture(e.pointerId); } });
canvas.addEventListener("pointerup", () => {
  const d = state.drag; state.drag = null;
  if (d && Math.abs(d.to - d.from) > 5) (hooks.select ?? zoom)(Math.max(whole[0], angleAt(Math.min(d.from, d.to))), Math.min(whole[1], angleAt(Math.max(d.from, d.to))));
  else if (d && hooks.pick) hooks.pick(angleAt(d.from));
  draw();
});
canvas.addEventListener("pointercancel", () => { state.drag = null; draw(); });
canvas.addEventListener("pointerleave", () => { if (!state.drag) { state.hover = null; draw(); } });
canvas.addEventListener("dblclick", () => zoom(...whole));
canvas.addEventListener("wheel", e => {
  if (document.activeElement !== canvas && !e.ctrlKey) return;
  e.preventDefault(); scaleBy(e.deltaY > 0 ? 1.25 : .8, angleAt(e.offsetX));
}, {passive: false});
canvas.addEventListener("keydown", e => {
  const step = (state.hi - state.lo) / 10, next = k => {
    const seen = lines.filter(l => !state.hidden.has(l.phase));
    if (!seen.length) return;
    let j = k > 0 ? seen.findIndex(l => l.t > (state.hover ?? state.lo) + 1e-6) : seen.findLastIndex(l => l.t < (state.hover ?? state.hi) - 1e-6);
    if (j < 0) j = k > 0 ? 0 : seen.length - 1;
    const t = seen[j].t, half = (state.hi - state.lo) / 2;
    if (t < state.lo || t > state.hi) zoom(t - half, t + half);
    state.hover = t; readout.setAttribute("aria-live", "polite"); report(t); draw();
  };
  const keys = {"+": () => scaleBy(.8, state.hover ?? undefined), "=": () => scaleBy(.8, state.hover ?? undefined), "-": () => scaleBy(1.25, state.hover ?? undefined),
    ArrowLeft: () => zoom(state.lo - step, state.hi - step), ArrowRight: () => zoom(state.lo + step, state.hi + step),
    "0": () => zoom(...whole), Home: () => zoom(...whole), n: () => next(1), p: () => next(-1), Enter: () => state.hover !== null && hooks.pick?.(state.hover)};
  if (keys[e.key] && !e.ctrlKey && !e.metaKey && !e.altKey) { e.preventDefault(); keys[e.key](); }
});
new ResizeObserver(draw).observe(canvas);
return {load, draw, zoom, scaleBy, state,
  all: () => zoom(...whole),
  hide: (k, hidden) => { hidden ? state.hidden.add(k) : state.hidden.delete(k); add(); draw(); },
  scale: s => { state.scale = s; draw(); },
  unhide: () => { state.hidden.clear(); add(); }};
};
