(() => {
const data = JSON.parse(document.getElementById("data").textContent);
const figure = patternFigure(document.getElementById("plot"), document.getElementById("readout"));
document.documentElement.classList.add("scripted");
for (const e of document.querySelectorAll(".live")) e.hidden = false;
figure.load(data);

for (const [k, p] of data.phases.entries()) {
  const label = document.createElement("label"), box = document.createElement("input"), chip = document.createElement("span"), name = document.createElement("bdi");
  box.type = "checkbox"; box.checked = true; box.dataset.phase = k;
  box.addEventListener("change", () => figure.hide(k, !box.checked));
  chip.className = "chip"; chip.style.background = p.colour; name.textContent = p.name;
  label.append(box, " ", chip, name);
  document.getElementById("toggles").append(label);
}
if (!data.phases.length) document.getElementById("toggles").hidden = true;
document.getElementById("zoom-in").addEventListener("click", () => figure.scaleBy(.6));
document.getElementById("zoom-out").addEventListener("click", () => figure.scaleBy(1 / .6));
document.getElementById("reset").addEventListener("click", () => figure.all());
for (const r of document.querySelectorAll("input[name=scale]")) r.addEventListener("change", () => r.checked && figure.scale(r.value));

// Paper shows everything, so closed sections open for printing and close again.
let opened = [];
addEventListener("beforeprint", () => { opened = [...document.querySelectorAll("details:not([open])")]; for (const d of opened) d.open = true; });
addEventListener("afterprint", () => { for (const d of opened) d.open = false; });

const table = document.getElementById("peak-table");
if (table) {
  const body = table.tBodies[0], rows = [...body.rows], count = document.getElementById("peak-count");
  const key = (row, c) => { const s = row.cells[c].textContent, v = parseFloat(s.replace("−", "-")); return c < 6 ? (isNaN(v) ? -Infinity : v) : s.toLowerCase(); };
  [...table.tHead.rows[0].cells].forEach((cell, c) => {
    const button = document.createElement("button"), paper = document.createElement("span");
    button.type = "button"; button.textContent = paper.textContent = cell.textContent;
    paper.className = "paper"; paper.hidden = true; // a table head with buttons is not repeated on the next sheet
    cell.replaceChildren(button, paper);
    button.addEventListener("click", () => {
      const up = cell.getAttribute("aria-sort") !== "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      cell.setAttribute("aria-sort", up ? "ascending" : "descending");
      rows.sort((a, b) => (key(a, c) < key(b, c) ? -1 : key(a, c) > key(b, c) ? 1 : 0) * (up ? 1 : -1));
      body.append(...rows);
    });
  });
  document.getElementById("peak-filter").addEventListener("input", e => {
    const want = e.target.value.trim().toLowerCase();
    let shown = 0;
    for (const r of rows) { r.hidden = want !== "" && !r.textContent.toLowerCase().includes(want); if (!r.hidden) shown++; }
    count.textContent = `${shown} of ${rows.length}`;
  });
}
})();
