(function () {
  "use strict";
  var root = document.documentElement;
  var board = document.querySelector(".board");
  var pane = document.querySelector(".pane");
  var sheet = document.querySelector(".sheet");
  var find = document.getElementById("find");
  var results = document.getElementById("results");
  var only = document.getElementById("only");
  var limits = [document.getElementById("from"), document.getElementById("to")];
  var letters = document.getElementById("letters");
  var all = function (query, within) { return Array.prototype.slice.call((within || document).querySelectorAll(query)); };
  var leaves = all(".leaf");
  var cases = all("a.case", pane);
  var bars = all("a.case, a.bound", pane);
  var entries = all(".todo li");
  var opener = null;
  root.classList.add("js");

  /* letters are compared without case and accents */
  function plain(text) { return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase(); }
  function read(key) { try { return decodeURIComponent(key); } catch (wrong) { return key; } }
  var haystack = new Map();
  all("[data-find]").forEach(function (node) { haystack.set(node, plain(node.dataset.find)); });
  var byName = new Map();
  leaves.forEach(function (leaf) {
    byName.set(read(leaf.id), leaf);
    leaf.dataset.id = leaf.id;
    leaf.setAttribute("name", read(leaf.id)); // by which a link to it still finds its place
    leaf.removeAttribute("id"); // else the browser itself would scroll the page to it
  });
  function share(node, key) {
    var leaf = byName.get(read(key));
    if (leaf && haystack.has(node)) { haystack.set(leaf, haystack.get(node)); }
  }
  cases.forEach(function (bar) { share(bar, bar.dataset.key); });
  entries.forEach(function (entry) { share(entry, entry.querySelector("a").hash.slice(1)); });
  var rows = all(".facts details[id] tbody tr").filter(function (row) { return row.dataset.find !== undefined || row.querySelector("th a"); });
  rows.forEach(function (row) {
    if (row.dataset.find === undefined) { haystack.set(row, haystack.get(byName.get(read(row.querySelector("th a").hash.slice(1))))); }
  });

  /* the room that is left on the screen belongs to the board */
  function fill() {
    var narrow = window.innerWidth <= 860;
    var left = window.innerHeight - (narrow ? 0 : board.getBoundingClientRect().top + window.scrollY);
    root.style.setProperty("--tall", Math.max(left, 360) + "px");
  }

  /* width of an hour */
  var hour = 62;
  var label = function () { return document.querySelector(".hours .name").offsetWidth; };
  function number(name) { return parseFloat(sheet.style.getPropertyValue(name)); }
  function setHour(width, keep) {
    var track = function () { return sheet.offsetWidth - label(); };
    var middle = (pane.scrollLeft + (pane.clientWidth - label()) / 2) / track();
    hour = Math.min(Math.max(width, 24), 260);
    root.style.setProperty("--hour", hour + "px");
    if (keep) { pane.scrollLeft = middle * track() - (pane.clientWidth - label()) / 2; }
  }
  function fit() {
    var share = (number("--to") - number("--from")) / 100;
    var width = (pane.clientWidth - label()) / (number("--hours") * share);
    var longest = Math.max.apply(null, all(".hours .tick").map(function (tick) { return tick.lastChild.textContent.length; }));
    setHour(Math.max(width, 8.3 * longest), false); /* 8.3 px: a digit in bold, for the type itself may not be there yet */
    pane.scrollLeft = number("--from") / 100 * (sheet.offsetWidth - label());
  }

  /* ways of sets, drawn from the rows as they stand */
  function drawWays() {
    var svg = document.querySelector(".ways");
    if (!svg) { return; }
    var field = svg.parentNode;
    var tall = field.offsetHeight || 1;
    var lane = number("--row");
    svg.setAttribute("viewBox", "0 0 100 " + tall);
    var middles = new Map();
    cases.forEach(function (bar) {
      if (bar.offsetParent) { middles.set(bar.dataset.key, bar.closest(".row").offsetTop + bar.offsetTop + bar.offsetHeight / 2); }
    });
    all(".way", svg).forEach(function (way) {
      var from = middles.get(way.dataset.from);
      var to = middles.get(way.dataset.to);
      way.style.display = from === undefined || to === undefined ? "none" : "";
      if (from === undefined || to === undefined) { return; }
      var x = way.dataset.x.split(" ");
      way.setAttribute("d", "M" + x[0] + " " + from + "V" + (to >= from ? from + lane / 2 : from - lane / 2) + "H" + x[1] + "V" + to + "H" + x[2]);
    });
  }

  /* finding and filtering */
  function wanted() {
    var words = plain(find.value).split(/\s+/).filter(Boolean);
    var kinds = all("input[name=kind]").filter(function (box) { return box.checked; }).map(function (box) { return box.value; });
    var from = limits[0].value === "" ? -Infinity : Number(limits[0].value);
    var to = limits[1].value === "" ? Infinity : Number(limits[1].value);
    return { words: words, kinds: kinds, from: from, to: to };
  }
  function says(node, want) {
    var hay = haystack.get(node);
    return want.words.every(function (word) { return hay !== undefined && hay.indexOf(word) >= 0; });
  }
  function inTime(node, want) {
    if (node.dataset.begins === undefined) { return true; }
    return Number(node.dataset.begins) <= want.to && Number(node.dataset.ends) >= want.from;
  }
  function ofKind(kinds, want) { return kinds.some(function (kind) { return want.kinds.indexOf(kind) >= 0; }); }
  function fits(node, want) {
    return says(node, want) && inTime(node, want) && (!node.dataset.kind || ofKind([node.dataset.kind], want));
  }
  function apply() {
    var want = wanted();
    var narrowed = want.words.length > 0 || want.from > -Infinity || want.to < Infinity;
    var shown = entries.filter(function (entry) { entry.hidden = !fits(entry, want); return !entry.hidden; }).length;
    var none = document.querySelector(".todo .none");
    if (none) { none.hidden = shown > 0; }
    var parties = new Set();
    entries.forEach(function (entry) {
      var leaf = byName.get(read(entry.querySelector("a").hash.slice(1)));
      if (!entry.hidden && leaf) { leaf.dataset.keys.split(" ").forEach(function (key) { parties.add(key); }); }
    });
    var kept = cases.filter(function (bar) {
      var on = says(bar, want) && inTime(bar, want);
      bar.classList.toggle("off", !on);
      return on;
    }).length;
    all(".room.row", pane).forEach(function (row) {
      var own = all(".case", row);
      var found = !want.words.length || own.some(function (bar) { return !bar.classList.contains("off"); });
      var troubled = !only.checked || own.some(function (bar) { return parties.has(bar.dataset.key); });
      row.hidden = !(found && troubled);
    });
    all(".group", pane).forEach(function (group) {
      group.hidden = !parties.has(group.dataset.key) && !(want.words.length && says(group, want) && ofKind(group.dataset.kinds.split(" "), want));
    });
    rows.forEach(function (row) { row.hidden = !fits(row, want); });
    var all_kinds = want.kinds.length === all("input[name=kind]").length;
    var status = narrowed || !all_kinds ? shown + " of " + entries.length + " conflicts and " + kept + " of " + cases.length + " cases match." : "";
    document.getElementById("found").textContent = status;
    listResults(want);
    fill();
    drawWays();
  }
  function listResults(want) {
    results.textContent = "";
    results.hidden = !want.words.length || document.activeElement !== find;
    if (!want.words.length) { return; }
    leaves.filter(function (leaf) { return leaf.dataset.name && haystack.has(leaf) && says(leaf, want); }).slice(0, 12).forEach(function (leaf) {
      var item = document.createElement("li");
      var link = document.createElement("a");
      var name = document.createElement("b");
      link.href = "#" + leaf.dataset.id;
      name.textContent = leaf.dataset.name;
      link.append(name, leaf.dataset.also);
      item.append(link);
      results.append(item);
    });
    if (!results.children.length) { results.hidden = true; }
  }
  function clear() {
    find.value = "";
    only.checked = false;
    limits.forEach(function (limit) { limit.value = ""; });
    all("input[name=kind]").forEach(function (box) { box.checked = true; });
    apply();
  }

  /* one leaf is open at a time, and the address of the page names it */
  function reveal(node, others) {
    var boxes = (others || []).concat([node]).map(function (one) { return one.getBoundingClientRect(); });
    var inner = node.getBoundingClientRect();
    var left = Math.min.apply(null, boxes.map(function (box) { return box.left; }));
    var right = Math.max.apply(null, boxes.map(function (box) { return box.right; }));
    var outer = pane.getBoundingClientRect();
    var panel = document.getElementById("leaves").getBoundingClientRect();
    var edge = panel.width && panel.left > outer.left ? Math.min(outer.right, panel.left) : outer.right;
    var floor = panel.width && panel.top > outer.top ? Math.min(outer.bottom, panel.top) : outer.bottom;
    var view = edge - outer.left - label();
    if (right - left > view - 40) { left = Math.min(inner.left, inner.right - view + 40); right = inner.right; }
    var head = document.querySelector(".hours").offsetHeight;
    if (inner.top < outer.top + head || inner.bottom > floor) { pane.scrollTop += inner.top - outer.top - head - (floor - outer.top) / 4; }
    if (node.classList.contains("group")) { return; }
    if (left < outer.left + label() || right > edge) { pane.scrollLeft += left - outer.left - label() - 20; }
  }
  function light(keys) {
    var lit = new Set(keys.map(read));
    all(".lit").forEach(function (node) { node.classList.remove("lit"); });
    var first = null;
    all("[data-key]", pane).forEach(function (node) {
      if (lit.has(read(node.dataset.key))) { node.classList.add("lit"); }
    });
    all(".way").forEach(function (way) {
      var both = lit.has(read(way.dataset.from)) && lit.has(read(way.dataset.to));
      var lone = keys.length === 1 && (lit.has(read(way.dataset.from)) || lit.has(read(way.dataset.to)));
      if (both || lone) { way.classList.add("lit"); }
    });
    keys.forEach(function (key) {
      first = first || all("[data-key]", pane).filter(function (node) { return read(node.dataset.key) === read(key) && node.offsetParent; })[0];
    });
    return first;
  }
  function litCases() { return cases.filter(function (bar) { return bar.classList.contains("lit") && bar.offsetParent; }); }
  function open() {
    var leaf = byName.get(read(location.hash.slice(1)));
    var was = board.classList.contains("open");
    leaves.forEach(function (one) { one.classList.toggle("shown", one === leaf); });
    board.classList.toggle("open", !!leaf);
    all(".todo a").forEach(function (link) {
      if (leaf && read(link.hash.slice(1)) === read(leaf.dataset.id)) { link.setAttribute("aria-current", "true"); } else { link.removeAttribute("aria-current"); }
    });
    if (!leaf) {
      light([]);
      if (was && opener && opener.isConnected) { opener.focus(); }
      return;
    }
    results.hidden = true;
    if (document.activeElement && !leaf.contains(document.activeElement) && !document.activeElement.closest(".leaves")) { opener = document.activeElement; }
    document.getElementById("leaves").scrollTop = 0;
    leaf.focus({ preventScroll: true });
    var first = light(leaf.dataset.keys.split(" ").filter(Boolean));
    var group = leaf.dataset.conflict ? all(".group.lit", pane).filter(function (one) { return one.offsetParent; })[0] : null;
    if (group) {
      var sets = all(".bound.lit", group);
      if (sets.length) { reveal(sets[0], sets.slice(1)); }
      pane.scrollTop += group.getBoundingClientRect().top - pane.getBoundingClientRect().top - document.querySelector(".hours").offsetHeight;
    } else if (first) { reveal(first, litCases()); }
    var current = document.querySelector(".todo a[aria-current]");
    if (current) { current.scrollIntoView({ block: "nearest" }); }
    window.scrollTo(0, 0);
    drawWays();
  }
  function shut() {
    try {
      history.pushState(null, "", location.pathname + location.search);
      open();
    } catch (sealed) { // in a frame without an origin of its own the address keeps its last sign
      location.hash = "";
    }
  }
  function step(by) {
    var shown = entries.filter(function (entry) { return !entry.hidden; }).map(function (entry) { return entry.querySelector("a"); });
    if (!shown.length) { return; }
    var at = shown.findIndex(function (link) { return link.hasAttribute("aria-current"); });
    var next = at < 0 ? (by > 0 ? 0 : shown.length - 1) : (at + by + shown.length) % shown.length;
    location.hash = shown[next].hash;
  }

  /* keys */
  function rove(bar) {
    bars.forEach(function (one) { one.tabIndex = one === bar ? 0 : -1; });
    bar.focus({ preventScroll: true });
    reveal(bar);
  }
  function rowsOfBars() {
    return all(".row", pane).filter(function (row) { return row.offsetParent; })
      .map(function (row) { return bars.filter(function (bar) { return bar.closest(".row") === row; }); })
      .filter(function (row) { return row.length; });
  }
  function walk(bar, key) {
    var rows = rowsOfBars();
    var at = rows.findIndex(function (row) { return row.indexOf(bar) >= 0; });
    var row = rows[at];
    var place = row.indexOf(bar);
    if (key === "ArrowRight") { return row[place + 1]; }
    if (key === "ArrowLeft") { return row[place - 1]; }
    if (key === "Home") { return row[0]; }
    if (key === "End") { return row[row.length - 1]; }
    var other = rows[at + (key === "ArrowDown" ? 1 : -1)];
    if (!other) { return undefined; }
    var middle = function (one) { return one.offsetLeft + one.offsetWidth / 2; };
    return other.slice().sort(function (a, b) { return Math.abs(middle(a) - middle(bar)) - Math.abs(middle(b) - middle(bar)); })[0];
  }
  var moves = ["ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown", "Home", "End"];
  function goTo(id) {
    var place = document.getElementById(id);
    place.scrollIntoView();
    place.focus({ preventScroll: true });
  }
  var acts = {
    "/": function () { find.focus(); find.select(); },
    "n": function () { step(1); },
    "p": function () { step(-1); },
    "t": function () { all(".facts details").forEach(function (one) { one.open = true; }); goTo("facts-head"); },
    "?": function () { goTo("reading"); },
    "+": function () { setHour(hour * 1.3, true); },
    "-": function () { setHour(hour / 1.3, true); },
    "0": fit
  };
  function typing(node) { return node.matches("input[type=search], select, textarea"); }
  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.metaKey || event.altKey) { return; }
    var here = event.target;
    if (event.key === "Escape") {
      if (!results.hidden) { results.hidden = true; find.focus(); } else if (board.classList.contains("open")) { shut(); } else { clear(); }
      event.preventDefault();
      return;
    }
    if (here.closest("#results, .find") && (event.key === "ArrowDown" || event.key === "ArrowUp")) {
      if (here === find) { results.hidden = !results.children.length; }
      var links = all("a", results);
      var next = links.indexOf(here) + (event.key === "ArrowDown" ? 1 : -1);
      (links[next] || (next < 0 ? find : here)).focus();
      event.preventDefault();
      return;
    }
    if (here === find && event.key === "Enter" && results.children.length) {
      location.hash = results.querySelector("a").hash;
      return;
    }
    if (bars.indexOf(here) >= 0 && moves.indexOf(event.key) >= 0) {
      var bar = walk(here, event.key);
      if (bar) { rove(bar); }
      event.preventDefault();
      return;
    }
    if (letters.checked && !typing(here) && acts[event.key]) {
      event.preventDefault();
      acts[event.key]();
    }
  });

  /* on paper the hours stand over every tray, as a page may begin there */
  all(".band ~ .group .tray, .band", pane).forEach(function (head) {
    var again = document.querySelector(".hours .track").cloneNode(true);
    again.className = "again";
    all(".tick", again).forEach(function (tick) { if (parseFloat(tick.style.left) < number("--from")) { tick.remove(); } });
    head.append(again);
  });

  /* the rest */
  find.addEventListener("input", apply);
  find.addEventListener("focus", function () { listResults(wanted()); });
  document.addEventListener("click", function (event) { if (!event.target.closest(".find")) { results.hidden = true; } });
  document.addEventListener("focusin", function (event) { if (!event.target.closest(".find")) { results.hidden = true; } });
  all(".tools input[type=checkbox], .tools select, #only").forEach(function (box) { box.addEventListener("change", apply); });
  document.getElementById("narrower").addEventListener("click", acts["+"]);
  document.getElementById("wider").addEventListener("click", acts["-"]);
  document.getElementById("fit").addEventListener("click", fit);
  document.getElementById("clear").addEventListener("click", function () { clear(); find.focus(); });
  document.getElementById("print").addEventListener("click", function () { window.print(); });
  document.getElementById("shut").addEventListener("click", shut);
  all(".facts details").forEach(function (one) {
    one.addEventListener("toggle", function () { document.querySelector(".facts").classList.toggle("some", !!document.querySelector(".facts details[open]")); });
  });
  window.addEventListener("hashchange", open);
  window.addEventListener("popstate", open);
  window.addEventListener("resize", function () { fill(); drawWays(); });
  bars.forEach(function (bar, at) { bar.tabIndex = at ? -1 : 0; });
  cases.forEach(function (bar) { bar.title = bar.getAttribute("aria-label"); });
  fill();
  fit();
  apply();
  open();
}());
