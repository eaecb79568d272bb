"use strict";
(() => {
const $ = id => document.getElementById(id);
const make = (tag, props = {}, ...children) => { const e = Object.assign(document.createElement(tag), props); e.append(...children); return e; };
let view = null, fields = [], names = new Map(), candidates = null, preview = "", chosenElements = new Set(), open = new Set(), dirty = new Set(), curvesOf = "";

// marked gives a text with the numbers of its formulas below the line; everything stays text.
function marked(text) {
  const out = document.createDocumentFragment();
  text.split("\x02").forEach((piece, i) => {
    const [low, rest] = i ? piece.split("\x03") : ["", piece];
    if (i) out.append(make("sub", {textContent: low}));
    out.append(rest ?? "");
  });
  return out;
}
const bare = text => text.replace(/[\x02\x03]/g, "");
const put = (e, ...children) => e.replaceChildren(...children);

// Talking to the program.
async function ask(path) {
  const r = await fetch(path);
  if (!r.ok) throw new Error((await r.text()).trim());
  return r.json();
}
async function send(path, body) {
  const form = body instanceof FormData;
  const r = await fetch(path, {method: "POST", body: form ? body : JSON.stringify(body ?? {}), headers: form ? {} : {"Content-Type": "application/json"}});
  if (!r.ok) throw Object.assign(new Error((await r.text()).trim()), {status: r.status});
  return r.json();
}
function complain(text) { $("trouble").textContent = text; $("trouble").hidden = !text; }
async function act(path, body) {
  try { complain(""); render(await send(path, body)); return true; } catch (e) { complain(e.message.replace("Failed to fetch", "The program does not answer any more. Start it again; nothing is lost.")); return false; }
}
const choose = choice => act("choose", choice);

// The pattern.
const style = name => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
let inks = null;
const colours = () => inks ??= {paper: style("--paper"), ink: style("--ink"), quiet: style("--quiet"), line: style("--grid"), shade: style("--shade"), curve: style("--curve"), residual: style("--residual"), zero: style("--zero"), accent: style("--accent"), alarm: style("--alarm"), dark: style("--dark") === "1"};
const hooks = {colours, pick: at => question(at), view: () => nearer()};
const figure = patternFigure($("plot"), $("readout"), hooks);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { inks = null; figure.draw(); if (view) claims(view.work); });
for (const r of document.querySelectorAll("input[name=scale]")) r.addEventListener("change", () => r.checked && figure.scale(r.value));
for (const r of document.querySelectorAll("input[name=drag]")) r.addEventListener("change", () => {
  hooks.select = r.value === "zoom" ? undefined : (lo, hi) => r.value === "mask" ? choose({kind: "mask", range: [round(lo), round(hi)]}) : choose({kind: "set", set: {range: [round(lo) + ":" + round(hi)]}});
});
const round = v => Math.round(v * 100) / 100;
$("zoom-in").addEventListener("click", () => figure.scaleBy(.6));
$("zoom-out").addEventListener("click", () => figure.scaleBy(1 / .6));
$("whole").addEventListener("click", () => figure.all());

let curves = null, fetched = 0;
const width = canvas => Math.round(Math.max(2000, 4 * canvas.clientWidth * (devicePixelRatio || 1)));
async function load(from) {
  const mine = ++fetched, q = new URLSearchParams({most: width($("plot"))});
  if (preview) q.set("preview", preview);
  if (from) { q.set("lo", from[0]); q.set("hi", from[1]); }
  try {
    const got = await ask("curves?" + q);
    if (mine !== fetched) return; // a newer one is on its way
    curves = got;
    figure.load(got); figure.draw();
    $("plot").dataset.answer = curvesOf; $("plot").dataset.preview = preview;
  } catch (e) { if (mine === fetched) complain(e.message); }
}
// nearer fetches all points of a long scan for the part that is looked at.
let waiting = 0;
function nearer() {
  if (!curves?.points) return;
  clearTimeout(waiting);
  waiting = setTimeout(() => { const w = figure.state.hi - figure.state.lo; load([Math.max(.001, figure.state.lo - w / 2), figure.state.hi + w / 2]); }, 80);
}

// Showing what the program says.
function render(v) {
  if (view && v.revision < view.revision) return;
  const at = document.activeElement?.dataset?.key;
  view = v;
  const w = v.work, a = w?.answer;
  document.body.classList.toggle("read-only", v.read_only);
  document.body.classList.toggle("stale", !!w && (w.busy || w.stale));
  for (const id of ["question", "given", "notes", "compare", "take", "look"]) $(id).hidden = !a && !(w && (id === "given" || id === "notes"));
  scans(v);
  $("sample").textContent = w ? w.sample : "a scan";
  document.title = w ? w.sample + " · phasetally" : "phasetally";
  if (w) {
    put($("sentence"), a ? marked(a.sentence) : w.busy ? "The phases are being looked for." : w.trouble ? "There is no answer." : "…");
    $("answer").setAttribute("aria-busy", w.busy);
    $("undo").disabled = !w.can_undo; $("redo").disabled = !w.can_redo;
    const last = w.log.find(l => l.shown);
    $("last-note").textContent = last && last.state ? "Last: " + last.words : "";
    complain(w.trouble);
    busy(w);
    notes(w);
    given(w);
  } else {
    put($("sentence"), "Drop a scan on this page.");
  }
  if (a) {
    for (const c of [...a.claims, ...w.before ?? []]) names.set(c.id, c.name);
    $("stops").hidden = !a.stops;
    $("absolute").hidden = !a.absolute; $("absolute").textContent = a.absolute;
    $("base").textContent = "wt% of " + a.base;
    put($("not-seen"), marked(a.not_seen));
    claims(w); doubts(a); leftOver(a); leftOut(w); compareList(v); take(w);
    $("by-hand").textContent = w.by_hand ? "Phases are chosen by hand; a search would choose anew." : "Phases come from a search.";
    figure.state.masks = [...w.masks];
    const key = w.answer_id;
    if (key !== curvesOf) { curvesOf = key; if (preview && a.claims.some(c => c.id === preview)) preview = ""; candidates = null; card(); load(curves?.points ? [figure.state.lo, figure.state.hi] : undefined); } else figure.draw();
  }
  $("unkept").hidden = !v.unkept; $("unkept").textContent = v.unkept;
  if (at && document.activeElement?.dataset?.key !== at) document.querySelector(`[data-key="${CSS.escape(at)}"]`)?.focus();
  document.body.dataset.revision = v.revision;
  document.body.dataset.answer = w?.answer_id ?? "";
  document.body.dataset.settled = !w || !w.busy && !w.stale;
}
let tick = 0, doing = "";
function busy(w) {
  clearInterval(tick);
  $("working").hidden = true;
  if (!w.busy) return;
  const began = performance.now() - w.busy_ms;
  doing = "";
  const say = () => {
    const s = (performance.now() - began) / 1000;
    $("working").hidden = s < .3;
    put($("working-words"), `Fitting for ${s.toFixed(0)} s`, doing && ": ", marked(doing), ". ", w.answer ? "Greyed numbers are those before." : "");
    if (s >= .3) ask("doing").then(r => { doing = r.words; }, () => {});
  };
  say(); tick = setInterval(say, 400);
}
function scans(v) {
  $("scan-list").hidden = v.scans.length < 2;
  if ($("scan-list").dataset.n !== String(v.scans.length)) { $("scan-list").dataset.n = v.scans.length; $("scan-list").open = v.scans.length < 13; }
  const waiting = v.scans.filter(s => !s.sentence && !s.trouble).length;
  $("scan-count").textContent = v.scans.length + (waiting ? `, ${waiting} still to be answered` : "");
  put($("scan-items"), ...v.scans.map((s, i) => {
    const b = make("button", {type: "button", textContent: s.name});
    b.dataset.key = "scan" + i;
    b.disabled = v.read_only;
    if (i === v.shown) b.setAttribute("aria-current", "true");
    b.addEventListener("click", () => act("show", {scan: i}));
    return make("li", {}, b, " ", make("small", {}, s.trouble || (s.sentence ? marked(s.sentence) : s.busy ? "being fitted" : "waits"), s.choices ? ` (${s.choices} choices)` : ""));
  }));
}

const hatches = ["45deg", "-45deg", "0deg", "45deg", "0deg", "20deg", "60deg", "-20deg"];
function fill(e, c) {
  const colour = colours().dark ? c.dark : c.colour;
  e.style.background = `repeating-linear-gradient(${hatches[c.hatch % 8]}, ${colour} 0 2px, color-mix(in srgb, ${colour} 45%, ${colours().paper}) 2px 6px)`;
}
// claims lists the phases, those that are left out with their switch off; what the last choice changed stands beside the new value.
function claims(w) {
  const before = new Map((w.before ?? []).map(c => [c.id, c]));
  const rows = w.answer.claims.map(c => claim(w, c, before.get(c.id), before.size));
  const known = new Set(w.answer.claims.map(c => c.id));
  for (const p of w.phases ?? []) if (!known.has(p.id)) rows.push(claim(w, {id: p.id, name: names.get(p.id) ?? p.id, formula: "", weight: p.on ? "…" : "left out", interval: "", evidence: "", why: [], rivals: [], seen: false, off: !p.on}, before.get(p.id), before.size));
  put($("claim-list"), ...rows);
  if (!rows.length) put($("claim-list"), make("li", {textContent: "No phase was found. Ask about a peak, find a phase by its name, or state elements."}));
}
function claim(w, c, old, any) {
  const phase = (w.phases ?? []).find(p => p.id.toLowerCase() === c.id.toLowerCase()), on = phase ? phase.on : !c.off, standard = w.standard === c.id;
  const box = make("input", {type: "checkbox", checked: on, disabled: view.read_only || standard, id: "on-" + c.id});
  box.setAttribute("role", "switch"); box.dataset.key = "on-" + c.id;
  box.setAttribute("aria-label", bare(c.name) + (standard ? ", the standard" : ", part of the fit"));
  box.addEventListener("change", async () => { if (!await choose({kind: box.checked ? "include" : "leaveout", id: c.id})) box.checked = !box.checked; });
  const chip = make("span", {className: "chip"});
  if (c.seen) fill(chip, c); else chip.hidden = true;
  const what = make("span", {className: "what"}, chip, make("bdi", {}, marked(c.name)), " ", make("small", {}, marked(c.formula)));
  const much = make("span", {className: "much" + (c.weight.length > 12 ? " many" : "")});
  const text = c.weight || "?", changed = any && (old ? old.weight !== c.weight || old.interval !== c.interval : true);
  if (changed && old) much.append(make("del", {textContent: old.weight, title: "before"}), " ");
  much.append(make("span", {textContent: text, className: changed ? "new" : ""}));
  const li = make("li", {className: on ? "" : "off"}, make("div", {className: "claim"}, box, make("label", {htmlFor: box.id}, what), much));
  li.dataset.phase = c.id;
  li.dataset.weight = c.weight; li.dataset.interval = c.interval;
  if (c.seen && c.lo !== null && c.hi !== null) {
    const bar = make("div", {className: "bar"}), i = make("i"), b = make("b");
    bar.setAttribute("role", "img"); bar.setAttribute("aria-label", `${bare(c.name)}: 95 % interval ${c.interval} wt%`);
    i.style.left = Math.max(0, Math.min(99.5, c.lo)) + "%"; i.style.width = Math.max(0, Math.min(100, c.hi) - Math.max(0, c.lo)) + "%"; fill(i, c);
    b.style.left = Math.max(0, Math.min(100, c.value ?? 0)) + "%";
    bar.append(i, b);
    if (changed && old && old.lo !== null && old.seen) { const u = make("u"); u.style.left = Math.max(0, old.lo) + "%"; u.style.width = Math.max(0, old.hi - old.lo) + "%"; bar.append(u); }
    li.append(bar);
  }
  const parts = [c.interval && c.seen ? `95 %: ${c.interval}` : "", c.doubt ? c.evidence + ", " + c.doubt : c.evidence, c.origin ? c.origin + ": not in the 100 %" : ""].filter(Boolean).join(" · ");
  if (!c.why.length && !c.rivals.length) { if (parts) li.append(make("small", {textContent: parts})); return li; }
  const more = make("details", {open: open.has(c.id)}, make("summary", {}, make("small", {textContent: parts + " · why"})), make("ul", {}, ...c.why.map(t => make("li", {textContent: t}))));
  more.firstChild.dataset.key = "why-" + c.id;
  more.addEventListener("toggle", () => more.open ? open.add(c.id) : open.delete(c.id));
  for (const r of c.rivals) {
    const b = make("button", {type: "button", className: "change", textContent: "Try it instead"});
    b.setAttribute("aria-label", "Try " + bare(r.name) + " instead of " + bare(c.name));
    b.addEventListener("click", async () => { if (await choose({kind: "include", id: r.id})) choose({kind: "leaveout", id: c.id}); });
    more.append(make("p", {className: "row"}, make("span", {}, marked(r.name), " explains the same lines nearly as well; ", r.decide || "nothing in this scan decides"), b));
  }
  if (!standard) {
    const aside = c.origin === "preparation", b = make("button", {type: "button", className: "change", textContent: aside ? "Count it as the specimen's own" : "Preparation left it: do not count it"});
    b.dataset.key = "aside-" + c.id;
    b.addEventListener("click", () => choose({kind: aside ? "count" : "aside", id: c.id}));
    more.append(make("p", {className: "row"}, b));
  }
  li.append(more);
  return li;
}
function doubts(a) {
  const stops = a.doubts.filter(d => d.word === "Stop").length, cautions = a.doubts.filter(d => d.word === "Caution").length;
  $("doubt-count").textContent = a.doubts.length ? [stops ? stops + " stop" : "", cautions ? cautions + " caution" + (cautions > 1 ? "s" : "") : "", `${a.doubts.length - stops - cautions} notes`].filter(Boolean).join(", ") : "none";
  const sign = d => { const mark = make("span", {className: "mark " + d.word.toLowerCase()}); mark.setAttribute("aria-hidden", "true"); return mark; };
  const grave = a.doubts.filter(d => d.word !== "Note"), shown = grave.slice(0, 4);
  $("doubts-brief").hidden = !grave.length;
  put($("doubts-brief"), ...shown.map(d => make("li", {}, sign(d), make("span", {className: "sr-text", textContent: d.word + ": "}), make("bdi", {textContent: d.brief}))));
  if (grave.length) {
    const b = make("button", {type: "button", textContent: grave.length > shown.length ? `${grave.length - shown.length} more, and what to do` : "What to do"});
    b.dataset.key = "doubts"; b.setAttribute("aria-controls", "doubts");
    b.addEventListener("click", () => { $("doubts").open = true; $("doubts").scrollIntoView({block: "nearest"}); $("doubts").firstElementChild.focus(); });
    $("doubts-brief").append(make("li", {}, b));
  }
  put($("doubt-list"), ...a.doubts.map(d => {
    const mark = sign(d);
    const item = make("article", {className: "caution-item " + d.word}, make("h4", {}, mark, d.word, " ", make("small", {textContent: "(" + d.code + ")"})), make("p", {}, make("bdi", {textContent: d.text})));
    if (d.remedy) item.append(make("p", {}, make("strong", {textContent: "What to do: "}), d.remedy));
    return item;
  }), ...a.hazards?.map(h => make("p", {className: "help", textContent: "Hazard, " + h})) ?? []);
  if (a.tube) {
    const b = make("button", {type: "button", className: "change", textContent: "Take the tube to be " + a.tube});
    b.addEventListener("click", () => choose({kind: "set", set: {radiation: [a.tube]}}));
    $("doubt-list").prepend(make("p", {className: "row"}, b));
  }
  if (a.stops && $("doubts").dataset.answer !== curvesOf) $("doubts").open = true;
  $("doubts").dataset.answer = curvesOf;
}
function leftOver(a) {
  $("left-over").hidden = !a.left.length;
  put($("left-items"), ...a.left.map(l => {
    const b = make("button", {type: "button", textContent: l.text});
    b.setAttribute("aria-label", "Ask what could be at " + l.text); b.dataset.key = "left" + l.two_theta;
    b.addEventListener("click", () => question(l.two_theta));
    return b;
  }));
}
function leftOut(w) {
  const masks = w.settings.mask ?? [], range = w.settings.range ?? [];
  $("left-out").hidden = !masks.length && !range.length;
  const items = masks.map((m, i) => {
    const b = make("button", {type: "button", className: "change", textContent: "Use it again"});
    b.setAttribute("aria-label", "Use " + m + "° again");
    b.addEventListener("click", () => choose({kind: "set", set: {mask: masks.filter((_, k) => k !== i)}}));
    return make("span", {}, m.replace(":", "° to ") + "° ", b);
  });
  if (range.length) {
    const b = make("button", {type: "button", className: "change", textContent: "Use the whole scan"});
    b.addEventListener("click", () => choose({kind: "set", set: {range: []}}));
    items.push(make("span", {}, "all but " + range[0].replace(":", "° to ") + "° ", b));
  }
  put($("left-out-items"), ...items);
}

// Asking about an angle.
async function question(at) {
  $("ask-at").value = at.toFixed(2);
  try { candidates = await ask("ask?at=" + at.toFixed(4)); complain(""); } catch (e) { complain(e.message); return; }
  card();
  $("question").scrollIntoView({block: "nearest"});
}
function card() {
  if (!candidates) { put($("ask-card")); return; }
  const list = candidates.candidates;
  put($("ask-card"), make("p", {textContent: list.length ? `At ${candidates.at.toFixed(2)}° there could be, the likeliest first:` : `Nothing in the reference data has a strong line at ${candidates.at.toFixed(2)}°. Drop structures or lists that may hold it.`}), cards(list.slice(0, 4)));
  if (list.length > 4) $("ask-card").append(make("details", {}, make("summary", {textContent: `${list.length - 4} less likely ones`}), cards(list.slice(4))));
}
function cards(list) {
  return make("ul", {className: "cards"}, ...list.map(c => {
    const look = make("button", {type: "button", textContent: "Lay over the pattern"}), taken = make("button", {type: "button", className: "change", textContent: "Take it"});
    look.setAttribute("aria-pressed", preview === c.id); look.dataset.preview = c.id;
    look.setAttribute("aria-label", "Lay " + bare(c.name) + " over the pattern");
    taken.setAttribute("aria-label", "Take " + bare(c.name)); taken.dataset.take = c.id;
    look.addEventListener("click", () => {
      preview = preview === c.id ? "" : c.id;
      for (const b of document.querySelectorAll("[data-preview]")) if (b !== $("plot")) b.setAttribute("aria-pressed", b.dataset.preview === preview);
      load(curves?.points ? [figure.state.lo, figure.state.hi] : undefined);
    });
    names.set(c.id, c.name);
    taken.addEventListener("click", () => { preview = ""; choose({kind: "include", id: c.id}); });
    const li = make("li", {}, make("p", {}, make("strong", {}, marked(c.name)), " ", marked(c.formula)), make("p", {}, make("small", {textContent: c.text})));
    if (c.decide) li.append(make("p", {}, make("small", {textContent: "What decides: " + c.decide + "."})));
    if (!c.allowed) li.append(make("p", {}, make("small", {textContent: "It holds elements that were not stated."})));
    li.append(make("p", {className: "row"}, look, taken));
    return li;
  }));
}
$("ask-form").addEventListener("submit", e => { e.preventDefault(); const v = degrees("ask-at"); if (v !== null) question(v); });
function degrees(id) {
  const v = parseFloat($(id).value.replace(",", "."));
  if (v > 0 && v < 180) return v;
  complain(`"${$(id).value}" is no angle: give degrees 2θ between 0 and 180.`);
  return null;
}
$("range-form").addEventListener("submit", e => {
  e.preventDefault();
  const lo = degrees("range-lo"), hi = degrees("range-hi");
  if (lo === null || hi === null) return;
  e.submitter?.value === "range" ? choose({kind: "set", set: {range: [lo + ":" + hi]}}) : choose({kind: "mask", range: [lo, hi]});
});
$("search-again").addEventListener("click", () => choose({kind: "search"}));

// Finding in the reference data; the elements stand where the periodic table has them.
const table = ["H", 1, 1, "He", 1, 18, "Li", 2, 1, "Be", 2, 2, "B", 2, 13, "C", 2, 14, "N", 2, 15, "O", 2, 16, "F", 2, 17, "Ne", 2, 18, "Na", 3, 1, "Mg", 3, 2, "Al", 3, 13, "Si", 3, 14, "P", 3, 15, "S", 3, 16, "Cl", 3, 17, "Ar", 3, 18];
const places = [];
for (let i = 0; i < table.length; i += 3) places.push(table.slice(i, i + 3));
const row = (names, period, group) => names.split(" ").forEach((s, i) => places.push([s, period, group + i]));
row("K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Se Br Kr", 4, 1);
row("Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe", 5, 1);
row("Cs Ba", 6, 1); row("Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi", 6, 4);
row("La Ce Pr Nd Pm Sm Eu Gd Tb Dy Ho Er Tm Yb Lu", 8, 3);
row("Ac Th Pa U Np Pu", 9, 3);
put($("element-grid"), ...places.map(([s, period, group]) => {
  const b = make("button", {type: "button", textContent: s});
  b.style.gridRow = period; b.style.gridColumn = group;
  b.setAttribute("aria-pressed", "false"); b.dataset.element = s;
  b.addEventListener("click", () => { chosenElements.has(s) ? chosenElements.delete(s) : chosenElements.add(s); elements(); });
  return b;
}));
function elements() {
  for (const b of $("element-grid").children) b.setAttribute("aria-pressed", chosenElements.has(b.dataset.element));
  $("element-words").textContent = chosenElements.size ? "only of " + [...chosenElements].join(", ") : "of any elements";
  find();
}
$("elements-clear").addEventListener("click", () => { chosenElements.clear(); elements(); });
$("elements-search").addEventListener("click", () => chosenElements.size ? choose({kind: "search", set: {elements: [...chosenElements]}}) : complain("Choose elements first."));
let asked = 0, pause = 0;
function find() {
  clearTimeout(pause);
  pause = setTimeout(async () => {
    const mine = ++asked, words = $("find-words").value;
    if (!words.trim() && !chosenElements.size) { put($("find-list")); return; }
    const q = new URLSearchParams({words});
    for (const e of chosenElements) q.append("element", e);
    try {
      const got = await ask("find?" + q);
      if (mine !== asked) return;
      put($("find-list"), make("p", {textContent: got.found.length ? `${got.found.length}${got.more ? " and more: say more of it" : ""} found` : "Nothing in the reference data is called so. Drop a structure (CIF) or a list that holds it."}), cards(got.found));
    } catch (e) { complain(e.message); }
  }, 150);
}
$("find-words").addEventListener("input", find);
$("find-form").addEventListener("submit", e => { e.preventDefault(); find(); });

// What is known.
function given(w) {
  if (!fields.length) return;
  const groups = Map.groupBy ? Map.groupBy(fields, f => f.Group) : fields.reduce((m, f) => m.set(f.Group, [...m.get(f.Group) ?? [], f]), new Map());
  if (!$("given-groups").children.length) put($("given-groups"), ...[...groups].map(([name, list]) => groupForm(name, list)));
  for (const f of fields) if (!dirty.has(f.Group)) {
    const e = $("field-" + f.Name), v = w.settings[f.Name] ?? [];
    if (f.Kind === "file" || f.Kind === "files") fileOptions(e, f, v);
    else if (f.Kind === "switch") e.checked = v.length > 0;
    else e.value = v.join(", ");
  }
}
function fileOptions(e, f, chosen) {
  const kind = {library: "reference data", instrument: "instrument", preparation: "preparation materials", blank: "scan"}[f.Name];
  const list = view.files.filter(x => x.kind === kind).map(x => make("option", {value: x.name, textContent: x.name, selected: chosen.includes(x.name)}));
  if (f.Kind === "file") list.unshift(make("option", {value: "", textContent: list.length ? "none" : "none; drop one on the page"}));
  put(e, ...list);
}
function groupForm(name, list) {
  const form = make("form", {autocomplete: "off"});
  for (const f of list) {
    const id = "field-" + f.Name, help = make("span", {className: "help", id: id + "-help", textContent: f.Help});
    let e;
    switch (f.Kind) {
    case "oneof": e = make("select", {}, make("option", {value: "", textContent: "not stated"}), ...f.Options.map(o => make("option", {value: o, textContent: o}))); break;
    case "switch": e = make("input", {type: "checkbox"}); break;
    case "file": e = make("select"); break;
    case "files": e = make("select", {multiple: true}); break;
    default:
      e = make("input", {type: "text"});
      if (f.Kind === "number") e.inputMode = "decimal";
      if (f.Options) { const d = make("datalist", {id: id + "-options"}, ...f.Options.map(o => make("option", {value: o}))); e.setAttribute("list", d.id); form.append(d); }
    }
    e.id = id; e.setAttribute("aria-describedby", help.id); e.name = f.Name; e.dataset.key = id;
    e.disabled = view.read_only;
    const label = make("label", {htmlFor: id, textContent: f.Label + (f.Unit ? `, ${f.Unit}` : "")});
    form.append(make("div", {className: "field"}, label, e, help));
  }
  const again = list.some(f => f.Name === "elements");
  form.append(make("p", {className: "row change"}, make("button", {textContent: again ? "Use this and look for phases" : "Use this"}), make("button", {type: "reset", textContent: "As it was"})));
  form.addEventListener("input", () => dirty.add(name));
  form.addEventListener("reset", e => { e.preventDefault(); dirty.delete(name); given(view.work); });
  form.addEventListener("submit", async e => {
    e.preventDefault();
    const set = {};
    for (const f of list) {
      const v = valueOf($("field-" + f.Name), f), was = view.work.settings[f.Name] ?? [];
      if (v.join("\n") !== was.join("\n")) set[f.Name] = v;
    }
    if (await choose({kind: again ? "search" : "set", set})) { dirty.delete(name); given(view.work); }
  });
  const d = make("details", {}, make("summary", {}, make("h3", {textContent: name})), form);
  d.dataset.group = name;
  return d;
}
function valueOf(e, f) {
  if (f.Kind === "switch") return e.checked ? ["true"] : [];
  if (f.Kind === "files") return [...e.selectedOptions].map(o => o.value);
  const v = e.value.trim();
  if (!v) return [];
  if (f.Kind === "number") return [v.replace(",", ".")];
  return f.Kind === "list" || f.Kind === "many" ? v.split(/[,;]\s*/).map(s => s.trim()).filter(Boolean) : [v];
}

// Notes, and going back.
function notes(w) {
  put($("log"), ...w.log.map(l => {
    const b = make("button", {type: "button", textContent: l.words, disabled: view.read_only});
    b.dataset.key = "note" + l.state;
    if (l.shown) b.setAttribute("aria-current", "step");
    b.addEventListener("click", () => act("go", {state: l.state}));
    return make("li", {className: l.onward ? "" : "left"}, b, l.shown ? make("small", {textContent: " shown now"}) : "");
  }));
  $("command").textContent = w.command;
}
const undo = () => act("undo"), redo = () => act("redo");
$("undo").addEventListener("click", undo);
$("redo").addEventListener("click", redo);
$("stop").addEventListener("click", () => act("stop"));
addEventListener("keydown", e => {
  if (!(e.ctrlKey || e.metaKey) || e.altKey || e.target.matches("input:not([type=checkbox]):not([type=radio]),textarea,select")) return;
  const k = e.key.toLowerCase();
  if (k === "z" && !e.shiftKey) { e.preventDefault(); undo(); } else if (k === "y" || k === "z") { e.preventDefault(); redo(); }
});

// Compare.
function compareList(v) {
  const options = [...v.work.log.map(l => [`${v.shown}.${l.state}`, `${l.state + 1}. ${l.words}`]), ...v.scans.map((s, i) => [`${i}.`, "the scan " + s.name]).filter((_, i) => i !== v.shown && v.scans[i].sentence)];
  for (const [id, fallback] of [["compare-a", `${v.shown}.0`], ["compare-b", `${v.shown}.${v.work.state}`]]) {
    const e = $(id), was = e.value;
    put(e, ...options.map(([value, text]) => make("option", {value, textContent: text})));
    e.value = e.dataset.touched && options.some(o => o[0] === was) ? was : fallback;
  }
}
for (const id of ["compare-a", "compare-b"]) $(id).addEventListener("change", () => $(id).dataset.touched = "1");
const pair = ["a", "b"].map(x => {
  const h = {colours};
  const f = patternFigure($("plot-" + x), $("compare-readout"), h);
  return {f, h, x};
});
pair.forEach(({h}, i) => { let quiet = false; h.view = (lo, hi) => { if (quiet) return; const other = pair[1 - i]; const s = other.h.view; other.h.view = undefined; other.f.zoom(lo, hi); other.h.view = s; }; });
$("compare-form").addEventListener("submit", async e => {
  e.preventDefault();
  const values = [$("compare-a").value, $("compare-b").value];
  try {
    const got = await ask("compare?" + new URLSearchParams({a: values[0], b: values[1]}));
    $("compare-caption").textContent = "Weight fractions with standard uncertainties; z is the change over the standard uncertainty of both" + (got.same ? ", though both come from the same counts" : "") + ".";
    put($("compare-rows"), ...got.rows.map(r => make("tr", {}, make("th", {scope: "row"}, marked(r.name)), ...[r.a, r.b, r.change, r.z].map(t => make("td", {className: "n", textContent: t})))));
    $("compare-out").hidden = false;
    const [lo, hi] = [Math.min(got.span[0][0], got.span[1][0]), Math.max(got.span[0][1], got.span[1][1])];
    for (const [i, {f, x}] of pair.entries()) {
      const [scan, state] = values[i].split(".");
      const c = await ask("curves?" + new URLSearchParams({scan, state, most: width($("plot-" + x))}));
      f.state.top = Math.max(...got.top);
      f.load({...c, whole: [lo, hi]}, [lo, hi]); f.draw();
      put($("name-" + x), [...$("compare-" + x).selectedOptions][0].textContent);
    }
  } catch (e) { complain(e.message); }
});

// To take with you.
function take(w) {
  $("saved").textContent = w.saved ? "Written to " + w.saved : "";
  if (w.saved) $("replace").hidden = true;
}
async function save(replace) {
  try { complain(""); $("saved").textContent = "Writing…"; render(await send("save", {replace})); } catch (e) {
    $("saved").textContent = e.message;
    $("replace").hidden = e.status !== 409;
    if (e.status === 409) $("replace").focus();
  }
}
$("save").addEventListener("click", () => save(false));
$("replace").addEventListener("click", () => save(true));
async function copy(text, html) {
  try {
    if (html) await navigator.clipboard.write([new ClipboardItem({"text/plain": new Blob([text], {type: "text/plain"}), "text/html": new Blob([html], {type: "text/html"})})]);
    else await navigator.clipboard.writeText(text);
    $("copied").textContent = "Copied."; $("by-hand-copy").hidden = true;
  } catch {
    $("by-hand-copy").hidden = false; $("copy-text").value = text; $("copy-text").select(); $("copied").textContent = "";
  }
}
$("copy-command").addEventListener("click", () => copy(view.work.command));
$("copy-sentence").addEventListener("click", () => copy(bare(view.work.answer.sentence)));
$("copy-methods").addEventListener("click", () => copy(view.work.answer.methods));
$("copy-table").addEventListener("click", async () => {
  try {
    const rows = await ask("table"), t = make("table", {}, make("tbody", {}, ...rows.map((r, i) => make("tr", {}, ...r.map(c => make(i ? "td" : "th", {textContent: c}))))));
    copy(rows.map(r => r.join("\t")).join("\n"), t.outerHTML);
  } catch (e) { complain(e.message); }
});
function links() {
  const other = $("figure-width").value === "mm", mm = parseFloat($("figure-mm").value.replace(",", "."));
  $("figure-other").hidden = !other;
  const good = !other || mm >= 60 && mm <= 400;
  $("figure-mm").setAttribute("aria-invalid", !good);
  $("figure-trouble").textContent = good ? "" : "Give 60 to 400 mm.";
  for (const format of ["svg", "png"]) {
    const a = $("figure-" + format);
    if (good) a.href = "figure?" + new URLSearchParams({format, width: other ? mm : $("figure-width").value, dark: $("figure-dark").checked}); else a.removeAttribute("href");
  }
}
$("figure-form").addEventListener("input", links);
$("figure-form").addEventListener("submit", e => e.preventDefault());
links();

// Files.
async function drop(files) {
  if (!files.length) return;
  const form = new FormData();
  for (const f of files) form.append("file", f, f.name);
  put($("dropped"), make("li", {textContent: "Reading…"}));
  try {
    const got = await send("drop", form);
    put($("dropped"), ...got.map(d => make("li", {className: d.bad ? "bad" : ""}, make("strong", {textContent: d.name}), ": " + d.words)));
    await look();
  } catch (e) { put($("dropped"), make("li", {className: "bad", textContent: e.message})); }
}
$("files").addEventListener("change", () => { drop([...$("files").files]); $("files").value = ""; });
let over = 0;
addEventListener("dragenter", e => { e.preventDefault(); over++; $("dropping").hidden = view?.read_only; });
addEventListener("dragleave", () => { if (--over <= 0) { over = 0; $("dropping").hidden = true; } });
addEventListener("dragover", e => e.preventDefault());
addEventListener("drop", e => { e.preventDefault(); over = 0; $("dropping").hidden = true; if (!view?.read_only) drop([...e.dataTransfer?.files ?? []]); });

async function look() {
  try { render(await ask("state")); } catch (e) { complain(e.message.replace("Failed to fetch", "The program does not answer any more. Start it again; nothing is lost.")); }
}
(async () => {
  try { fields = await ask("fields"); } catch (e) { complain(e.message); return; }
  const news = new EventSource("events");
  news.onopen = look;
  news.onmessage = e => { if (!view || +e.data > view.revision) look(); }; // what a reply has brought needs no second look
  news.onerror = () => complain("The program does not answer any more. Start it again and open the address that it prints; nothing is lost.");
})();
})();
