// The scan field: it keeps the focus, sends one scan after the other, and says each answer in sound too.
"use strict";

const PAUSE = 500;  // ms without a character after which a scan is over
const TONES = {     // hertz and ms
  "OK": [[1047, 90]], "cart open": [[784, 90], [1047, 120]], "built": [[784, 90], [988, 90], [1319, 180]],
  "surplus": [[660, 110], [660, 110]], "look": [[660, 220]], "still missing": [[523, 150], [440, 200]],
  "wrong": [[196, 380]], "expired": [[196, 150], [196, 150], [196, 150]], "next": [[880, 60]],
  "undone": [[660, 80], [523, 80]], "half": [[330, 100], [262, 220]],
};
const place = document.querySelector("[data-scan-field]");
const field = document.getElementById("scan");

// Short tones, made here; a browser lets them sound after the first key.
let air = null, free = 0;
const sounds = document.querySelector("[data-sound]");
const sound = (verdict) => {
  if (!sounds.checked || !window.AudioContext) return;
  air ??= new AudioContext();
  free = Math.max(free, air.currentTime);
  for (const [hertz, ms] of TONES[verdict] ?? []) {
    const tone = air.createOscillator(), loud = air.createGain();
    tone.type = hertz < 300 ? "square" : "sine";
    tone.frequency.value = hertz;
    loud.gain.value = 0.2;
    tone.connect(loud).connect(air.destination);
    tone.start(free);
    tone.stop(free + ms / 1000);
    free += (ms + 40) / 1000;
  }
};

const say = (id, verdict) => {
  const there = document.getElementById("scan-answer");
  const local = document.getElementById(id).content.firstElementChild.cloneNode(true);
  there.className = local.className;
  there.replaceChildren(...local.childNodes);
  sound(verdict);
};

const send = inTurn((text) => {
  show(text);
  sound(document.getElementById("scan-answer").dataset.verdict);
}, () => say("scan-lost", "wrong"));
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-scan]")) return;
  event.preventDefault();
  if (form === place && !field.value.trim()) return;
  // DONE counts with the initials, also where the answer that shows the field for them is still to come.
  if (form === place) form.elements.by.value = document.getElementById("by")?.value ?? sessionStorage.getItem("initials") ?? "";
  send(form);
  if (!form.matches("[data-built]")) form.reset();
  scanned = "";
  field.focus();
});

// A scanner types fast. What it types into another field belongs here, and a scan without its end is no scan.
let last = 0, quick = 0, began = "", scanned = "";
const fast = () => quick >= 3;
let over = 0;
const unfinished = () => { if (scanned && field.value) say("scan-half", "half"); };
document.addEventListener("keydown", (event) => {
  const target = event.target, gap = event.timeStamp - last;
  if (event.ctrlKey && (event.key === "]" || event.code === "BracketRight")) {  // the separator of GS1
    event.preventDefault();
    field.focus();
    field.setRangeText("\u001d", field.selectionStart, field.selectionEnd, "end");
    last = event.timeStamp;
    return;
  }
  if (event.key === "Tab" && fast() && gap < QUICK && field.value) {  // a scanner that ends with the tab key
    event.preventDefault();
    place.requestSubmit();
    return;
  }
  if (event.key === "Enter") clearTimeout(over);
  if (event.key.length !== 1 || event.ctrlKey || event.altKey || event.metaKey) return;
  last = event.timeStamp;
  if (gap >= QUICK) {
    quick = 0;
    began = target.value ?? "";
    if (scanned && gap >= PAUSE && field.value && target !== document.getElementById("by")) {
      field.value = "";  // the start of a scan whose end never came
      scanned = "";
    }
  } else quick += 1;
  clearTimeout(over);
  if (fast()) { scanned = "yes"; over = setTimeout(unfinished, PAUSE); }
  if (target === field) return;
  if (target.matches("input:not([type=checkbox])")) {
    if (!fast()) return;
    event.preventDefault();
    field.value = target.value.slice(began.length) + event.key;
    target.value = began;
    field.focus();
  } else if (event.key !== " " || target === document.body) field.focus();
});
document.addEventListener("click", (event) => { if (!event.target.closest("input, label, a, video")) field.focus(); });
window.addEventListener("focus", () => field.focus());
if (field) field.focus();

// The camera of a tablet, where the browser reads codes by itself.
const camera = document.querySelector("[data-camera]");
if (field && window.BarcodeDetector && navigator.mediaDevices) {
  const picture = document.querySelector("[data-camera-picture]");
  let running = null, seen = "", when = 0;
  const look = async (detector) => {
    if (!running) return;
    for (const code of await detector.detect(picture).catch(() => [])) {
      if (code.rawValue === seen && Date.now() - when < 2500) continue;
      seen = code.rawValue;
      when = Date.now();
      field.value = code.rawValue;
      place.requestSubmit();
    }
    setTimeout(() => look(detector), 150);
  };
  const stop = () => {
    for (const track of running?.getTracks() ?? []) track.stop();
    running = null;
    picture.hidden = true;
    camera.textContent = "Use the camera";
  };
  // Some browsers have the name and read nothing.
  BarcodeDetector.getSupportedFormats().then((formats) => { camera.hidden = formats.length === 0; }, () => {});
  camera.addEventListener("click", async () => {
    if (running) { stop(); return; }
    try {
      running = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      camera.textContent = "The camera cannot be used";
      return;
    }
    picture.srcObject = running;
    picture.hidden = false;
    camera.textContent = "Stop the camera";
    await picture.play();
    look(new BarcodeDetector());
  });
}
