// Small comforts; every page works without them.
"use strict";

const body = document.body;
const read = (text) => new DOMParser().parseFromString(text, "text/html");
const fetched = async () => {
  const answer = await fetch(location.href, { cache: "no-store" });
  return answer.ok ? answer.text() : "";
};

// What the user typed, chose or ticked, and a form that is under way, is never replaced.
const chosen = (list) => Math.max(0, [...list.options].findIndex((one) => one.defaultSelected));
const changed = (one) => one.matches("select") ? one.selectedIndex !== chosen(one)
  : one.matches("[type=checkbox], [type=radio]") ? one.checked !== one.defaultChecked
  : one.matches("[type=file]") ? one.files.length > 0 : one.value !== one.defaultValue;
const touched = (place) => place.matches("[data-sent]") || place.querySelector("[data-sent]") !== null
  || [...place.querySelectorAll("input:not([type=hidden]), select, textarea")].some((one) => !one.matches("[data-sound], [data-stays]") && changed(one));

// Puts what is there now in the place of what is shown: the focus, opened parts and notes stay.
const same = (one, among) => one.id ? document.getElementById(one.id)
  : [...among.querySelectorAll(one.tagName)].find((other) => other.textContent === one.textContent && other.getAttribute("name") === one.getAttribute("name") && other.getAttribute("href") === one.getAttribute("href") && other.value === one.value);
const put = (old, now) => {
  const focus = old.contains(document.activeElement) ? document.activeElement : null;
  const open = [...old.querySelectorAll("details[open]")];
  if (old.tagName === "SELECT" && old.value) now.value = old.value;
  const typed = [...old.querySelectorAll("[data-stays]")].map((one) => [one.id, one.value]);
  old.replaceWith(now);
  for (const [id, value] of typed) { const there = document.getElementById(id); if (there) there.value = value; }
  for (const one of open) {
    const there = one.id ? document.getElementById(one.id) : same(one.querySelector("summary"), now)?.parentElement;
    if (there) there.open = true;
  }
  if (focus) same(focus, now)?.focus({ preventScroll: true });
  for (const hint of now.querySelectorAll("[data-drop-hint]")) hint.hidden = false;
  recall(now);
  watch(now);
};
const show = (text) => {
  const fresh = read(text);
  for (const part of document.querySelectorAll("[data-part]")) {
    const now = fresh.getElementById(part.id);
    if (now && !(touched(part) && part.tagName !== "SELECT")) put(part, now);
  }
  body.dataset.version = fresh.body.dataset.version;
  body.dataset.mark = fresh.body.dataset.mark;
};
const QUICK = 45;  // ms between two characters of a scanner; nobody types so fast

// Forms that are sent without leaving the page: one after the other, in their order; one that cannot be sent now
// is kept and sent again. What came of each is handed on.
const pause = (ms) => new Promise((done) => setTimeout(done, ms));
const inTurn = (answered, isLost) => {
  const waiting = [];
  let sending = false;
  const send = async () => {
    if (sending) return;
    sending = true;
    for (let lost = false; waiting.length;) {
      let text;
      try {
        const answer = await fetch(waiting[0].action, { method: "POST", body: waiting[0].said, cache: "no-store" });
        text = await answer.text();
        if (answer.status === 403) { location.reload(); return; }
      } catch {
        if (!lost) isLost();
        lost = true;
        await pause(1500);
        continue;
      }
      waiting.shift();
      lost = false;
      answered(text);
    }
    sending = false;
  };
  return (form) => { waiting.push({ action: form.action, said: new URLSearchParams(new FormData(form)) }); send(); };
};

// The initials of whoever works at this window, until it is closed.
const recall = (place) => { for (const one of place.querySelectorAll("[data-initials]")) if (!one.value) one.value = one.defaultValue = sessionStorage.getItem("initials") ?? ""; };
document.addEventListener("change", (event) => { if (event.target.matches("[data-initials]")) sessionStorage.setItem("initials", event.target.value.trim()); });
recall(document);
const renew = async () => show(await fetched());

// What another window or a command records is shown here within two seconds.
const LOOK = 1000;
const catchUp = async () => {
  const text = await fetched(), fresh = read(text), main = document.getElementById("main");
  const now = fresh.getElementById("main");
  if (!now || !fresh.body.dataset.mark) return;
  if (fresh.body.dataset.mark === body.dataset.mark) { body.dataset.version = fresh.body.dataset.version; return; }
  if (touched(main)) {
    if (!main.querySelector("[data-scan]") && !main.querySelector(".stale")) main.prepend(document.getElementById("stale").content.cloneNode(true));
    show(text);
    return;
  }
  if (main.querySelector("[data-scan]")) { show(text); return; }
  for (const one of main.querySelectorAll("[data-answer]")) now.querySelector(`#${one.id}`)?.replaceWith(one);
  for (const note of [...main.querySelectorAll(":scope > .said[role=status]")].reverse()) now.prepend(note);
  put(main, now);
  body.dataset.version = fresh.body.dataset.version;
  body.dataset.mark = fresh.body.dataset.mark;
};
if (body.dataset.version) {
  const address = new URL(location.href);
  if (address.searchParams.has("said")) { address.searchParams.delete("said"); history.replaceState(null, "", address); }
  const look = async () => {
    try {
      const told = await (await fetch(body.dataset.look, { cache: "no-store" })).json();
      if (told.version !== body.dataset.version && !document.querySelector("[data-work][data-then=first]")) await catchUp();
    } catch { /* picklist was closed, or is busy: the next look will tell */ }
    setTimeout(look, LOOK);
  };
  setTimeout(look, LOOK);
}

// Waits for a piece of work and then looks at the page, or at its parts, again.
const watch = (place) => { for (const box of place.querySelectorAll("[data-work]")) {
  const stage = box.querySelector("[data-stage]"), bar = box.querySelector("[data-share]");
  const look = async () => {
    if (!box.isConnected) return;
    try {
      const answer = await fetch(box.dataset.work, { cache: "no-store" });
      const told = await answer.json();
      if (!told.running || (told.first && box.dataset.then === "first")) {
        if (box.dataset.then === "parts") await renew();
        else if (box.dataset.then === "first") location.reload();
        else if (told.refused) location.assign(box.dataset.work.replace(/\/stage$/, ""));
        else { await catchUp(); box.remove(); }  // what is opened on the page stays open
        return;
      }
      if (stage.textContent !== told.stage) stage.textContent = told.stage;
      bar.hidden = told.share === null;
      if (!bar.hidden) bar.value = told.share;
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
const taker = () => document.querySelector("[data-drop]");
const lit = () => taker().hidden ? document.body : taker();
if (taker()) {
  for (const hint of document.querySelectorAll("[data-drop-hint]")) hint.hidden = false;
  document.addEventListener("dragover", (event) => { event.preventDefault(); lit().classList.add("over"); });
  document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) lit().classList.remove("over"); });
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    lit().classList.remove("over");
    if (!event.dataTransfer.files.length) return;
    taker().querySelector("input[type=file]").files = event.dataTransfer.files;
    taker().requestSubmit();
  });
}

// A button is pressed once.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("form[method=post]:not([data-download], [data-scan], [data-mark])")) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
  form.setAttribute("aria-busy", "true");
});
window.addEventListener("pageshow", () => { for (const form of document.forms) { delete form.dataset.sent; form.removeAttribute("aria-busy"); } });

// In a long form the enter key, which a scanner presses too, goes on to the next field.
document.addEventListener("keydown", (event) => {
  const form = event.target.closest("form[data-enter=next]");
  if (!form || event.key !== "Enter" || !event.target.matches("input:not([type=checkbox])")) return;
  event.preventDefault();
  const fields = [...form.elements].filter((one) => one.matches("input:not([type=hidden]), select, button"));
  fields[fields.indexOf(event.target) + 1]?.focus();
});

// Whoever writes into a field has chosen what it belongs to.
document.addEventListener("input", (event) => {
  const field = event.target;
  if (!field.matches("[data-chooses]") || !field.value) return;
  field.form.querySelector(`input[type=radio][value="${field.dataset.chooses}"]`).checked = true;
});

// A link to a conflict opens it.
const named = () => { try { return decodeURIComponent(location.hash.slice(1)); } catch { return ""; } };
const aim = () => { const target = location.hash && document.getElementById(named()); if (target && target.tagName === "DETAILS") target.open = true; };
window.addEventListener("hashchange", aim);
aim();

// Which of two boards is shown.
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-tabs] a");
  if (!link) return;
  for (const other of link.closest("[data-tabs]").querySelectorAll("a")) other.removeAttribute("aria-current");
  link.setAttribute("aria-current", "true");
});
