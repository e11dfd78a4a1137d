// The field over the carts: the end of a number and Enter mark a cart built; a scanner's typing goes to the scans.
"use strict";

const field = document.getElementById("cart"), by = document.getElementById("by"), which = document.getElementById("which");
const asks = which.textContent;
const rows = () => [...document.querySelectorAll("[data-case]")];
const ready = () => (by.value ? field : by).focus();

// Before Enter: which cart it would be. The program decides it again by the same end.
field.addEventListener("input", () => {
  const said = field.value.trim().toLowerCase();
  const found = said.length > 1 ? rows().filter((row) => row.dataset.case.toLowerCase().endsWith(said)) : [];
  for (const row of rows()) row.classList.toggle("meant", found.length === 1 && row === found[0]);
  which.textContent = said.length < 2 ? asks : found.length === 1 ? `${found[0].dataset.case}: ${found[0].dataset.about}${"hold" in found[0].dataset ? " (on hold)" : ""}`
    : found.length ? `${found.length} carts end like that; type one more character` : "no cart in the table ends like that";
});

const send = inTurn((text) => {
  const answer = read(text).getElementById("answer");
  if (answer) document.getElementById("answer").replaceWith(answer);
  show(text);
}, () => { which.textContent = "picklist does not answer; was its window closed? It is sent again."; });
const scan = document.querySelector("[data-to-scan]");
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-mark]")) return;
  event.preventDefault();
  if (form.contains(field)) {
    if (!by.value.trim() || !field.value.trim()) { (by.value.trim() ? field : by).focus(); return; }
    if (scanned()) {
      scan.elements.scan.value = field.value;
      scan.requestSubmit();
      return;
    }
  }
  send(form);
  field.value = "";
  field.dispatchEvent(new Event("input"));
  field.focus();
});

// A scanner types faster than a hand: all of the field, and then Enter or the tab key.
let last = 0, quick = 0;
const scanned = () => quick >= 3 && quick + 1 >= field.value.length;
document.addEventListener("keydown", (event) => {
  const gap = event.timeStamp - last;
  if (event.key === "Tab" && event.target === field && scanned() && gap < QUICK) { event.preventDefault(); field.form.requestSubmit(); }
  if (event.key.length !== 1 || event.ctrlKey || event.altKey || event.metaKey) return;
  last = event.timeStamp;
  quick = gap < QUICK ? quick + 1 : 0;
  if (event.target === document.body && event.key !== " ") field.focus();
});
ready();
