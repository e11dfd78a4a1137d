// Small comforts; every page works without them.
"use strict";

// Puts the parts of the page as it is now in the place of those shown; what the user has chosen stays.
const renew = async () => {
  const answer = await fetch(location.href, { cache: "no-store" });
  show(await answer.text());
};
const show = (text) => {
  const fresh = new DOMParser().parseFromString(text, "text/html");
  for (const part of document.querySelectorAll("[data-part]")) {
    const now = fresh.getElementById(part.id);
    if (!now) continue;
    if (part.tagName === "SELECT" && part.value) now.value = part.value;
    part.replaceWith(now);
    watch(now);
  }
};

// Waits for a piece of work and then looks at the page, or at its parts, again.
const watch = (place) => { for (const box of place.querySelectorAll("[data-work]")) {
  const stage = box.querySelector("[data-stage]");
  const look = async () => {
    try {
      const answer = await fetch(box.dataset.work, { cache: "no-store" });
      const told = await answer.json();
      if (!told.running) {
        if (box.dataset.then === "parts") await renew(); else location.reload();
        return;
      }
      if (stage.textContent !== told.stage) stage.textContent = told.stage;
      setTimeout(look, 500);
    } catch {
      stage.textContent = "picklist does not answer; was its window closed?";
      setTimeout(look, 3000);
    }
  };
  setTimeout(look, 250);
} };
watch(document);

// A file dropped anywhere on any page goes into the page's own form for files, else into the hidden one.
const taker = document.querySelector("[data-drop]");
if (taker) {
  const shown = taker.hidden ? document.body : taker;
  for (const hint of document.querySelectorAll("[data-drop-hint]")) hint.hidden = false;
  document.addEventListener("dragover", (event) => { event.preventDefault(); shown.classList.add("over"); });
  document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) shown.classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    shown.classList.remove("over");
    if (!event.dataTransfer.files.length) return;
    taker.querySelector("input[type=file]").files = event.dataTransfer.files;
    taker.requestSubmit();
  });
}

// A button is pressed once.
for (const form of document.querySelectorAll("form[method=post]:not([data-download], [data-scan])")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    form.setAttribute("aria-busy", "true");
  });
}
window.addEventListener("pageshow", () => { for (const form of document.forms) { delete form.dataset.sent; form.removeAttribute("aria-busy"); } });

// In a long form the enter key, which a scanner presses too, goes on to the next field.
for (const form of document.querySelectorAll("form[data-enter=next]")) {
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input:not([type=checkbox])")) return;
    event.preventDefault();
    const fields = [...form.elements].filter((one) => one.matches("input:not([type=hidden]), select, button"));
    fields[fields.indexOf(event.target) + 1]?.focus();
  });
}

// Whoever writes into a field has chosen what it belongs to.
for (const field of document.querySelectorAll("[data-chooses]")) {
  field.addEventListener("input", () => {
    const choice = field.form.querySelector(`input[type=radio][value="${field.dataset.chooses}"]`);
    if (field.value) choice.checked = true;
  });
}

// A link to a conflict opens it.
const named = () => { try { return decodeURIComponent(location.hash.slice(1)); } catch { return ""; } };
const aim = () => { const target = location.hash && document.getElementById(named()); if (target && target.tagName === "DETAILS") target.open = true; };
window.addEventListener("hashchange", aim);
aim();

// Which of two boards is shown.
for (const tabs of document.querySelectorAll("[data-tabs]")) {
  const links = tabs.querySelectorAll("a");
  for (const link of links) {
    link.addEventListener("click", () => {
      for (const other of links) other.removeAttribute("aria-current");
      link.setAttribute("aria-current", "true");
    });
  }
}
