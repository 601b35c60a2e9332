// Without this script everything is shown in batch order; it only chooses,
// sorts and enlarges. With it, a piece's evidence stays text inside a noscript
// until it is wanted: 200 pieces open twice as fast.
"use strict";
const form = document.querySelector(".tools"), grid = document.querySelector("ul.grid"), pieces = [...grid.children];
const dialog = document.querySelector("dialog"), pan = dialog.querySelector(".pan");

function choose() {
  const want = Object.fromEntries(new FormData(form));
  let shown = 0;
  for (const p of pieces) {
    const d = p.dataset;
    p.hidden = !((!want.verdict || d.verdict.split(" ").includes(want.verdict)) && (!want.powder || d.powder === want.powder) &&
      (!want.base || d.base === want.base) && (!want.fault || d.fault.includes("|" + want.fault + "|")));
    shown += !p.hidden;
  }
  const by = want.sort;
  const order = [...pieces];
  const text = p => p.dataset[by].replace("||", "") || "\uffff"; // nothing stated goes last
  if (by === "rank") order.sort((a, b) => a.dataset.rank - b.dataset.rank);
  else if (["powder", "base", "fault"].includes(by)) order.sort((a, b) => text(a).localeCompare(text(b)));
  else if (by !== "order") order.sort((a, b) => b.dataset[by] - a.dataset[by]);
  if (order.some((p, i) => p !== grid.children[i])) grid.append(...order);
  form.querySelector("output").value = shown + " of " + pieces.length + " shown";
}
form.hidden = false;
form.addEventListener("change", choose);
form.addEventListener("reset", () => setTimeout(choose));
choose();

function unfold(details) {
  const text = details.querySelector("noscript");
  if (!text) return;
  text.outerHTML = text.textContent;
  enlargeable(details);
}
grid.addEventListener("toggle", e => { if (e.target.matches("details.all")) unfold(e.target); }, true);

// A link to a piece shows it, whatever is chosen, and opens its evidence.
function visit() {
  const p = document.getElementById(location.hash.slice(1));
  if (!p || !p.matches(".piece")) return;
  if (p.hidden) { form.reset(); p.hidden = false; }
  const evidence = p.querySelector("details.all");
  unfold(evidence);
  evidence.open = true;
  p.scrollIntoView();
}
addEventListener("hashchange", visit);
visit();

let home, zoom;
function size() { pan.style.setProperty("--zoom", zoom); }
function enlargeable(part) {
  for (const caption of part.querySelectorAll(".view:has(img) figcaption:not(:has(button))")) {
    const button = document.createElement("button");
    button.textContent = "Enlarge";
    button.type = "button";
    button.setAttribute("aria-label", "Enlarge " + caption.textContent + " of " + caption.closest("article").querySelector("h3").textContent);
    caption.append(button);
    button.onclick = () => {
      home = caption.parentElement;
      const frame = home.querySelector(".frame"), img = frame.querySelector("img");
      pan.append(frame);
      dialog.showModal();
      pan.style.setProperty("--fit", Math.min(pan.clientWidth, pan.clientHeight * img.width / img.height) + "px");
      zoom = 1;
      size();
    };
  }
}
dialog.addEventListener("click", e => {
  if (e.target.value === "in") zoom = Math.min(zoom * 1.5, 8);
  else if (e.target.value === "out") zoom = Math.max(zoom / 1.5, 1);
  else return;
  size();
});
dialog.addEventListener("close", () => home.prepend(pan.firstChild));

enlargeable(grid);

// Paper cannot be unfolded.
addEventListener("beforeprint", () => {
  for (const d of grid.querySelectorAll("details.all")) unfold(d);
  for (const d of document.querySelectorAll("details:not(.table)")) d.open = true;
});
