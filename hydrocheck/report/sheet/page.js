(function () {
  "use strict";
  var form = document.getElementById("sheet");
  var key = form.dataset.key;
  var blanks = Array.from(form.querySelectorAll("input[data-what]"));
  var ticks = Array.from(form.querySelectorAll("input[data-done]"));
  var texts = Array.from(form.querySelectorAll("[data-text]"));
  var hopper = document.getElementById("hopper");
  var plain = /^\s*-?(\d+\.?\d*|\.\d+)\s*$/;

  function remark(blank) {
    var text = blank.value, low = blank.dataset.low, high = blank.dataset.high;
    if (!text.trim() || !low) { return ""; }
    if (!plain.test(text)) { return "not a plain number"; }
    var side = Number(text) < Number(low) ? "below" : Number(text) > Number(high) ? "above" : "";
    return side && side + " the range of " + low + " to " + high + " " + blank.dataset.unit;
  }

  function flag(blank) {
    var text = remark(blank), place = document.getElementById(blank.id + "-flag");
    if (place.textContent !== text) { place.textContent = text; }
    if (text) { blank.setAttribute("aria-invalid", "true"); }
    else { blank.removeAttribute("aria-invalid"); }
  }

  function count() {
    var full = blanks.filter(function (b) { return b.value.trim(); }).length;
    var out = blanks.filter(remark).length;
    var text = full + " of " + blanks.length + " filled" + (out ? ", " + out + " out of range" : "");
    var place = document.getElementById("count");
    if (place.textContent !== text) { place.textContent = text; }
  }

  function keep() {
    var state = { hopper: hopper.value };
    blanks.concat(texts).forEach(function (one) { state[one.id] = one.value; });
    ticks.forEach(function (one) { state[one.id] = one.checked; });
    try { window.localStorage.setItem(key, JSON.stringify(state)); } catch (error) { /* kept by saving only */ }
  }

  function bring_back() {
    var state = null;
    try { state = JSON.parse(window.localStorage.getItem(key)); } catch (error) { /* nothing kept */ }
    if (!state || typeof state !== "object") { return; }
    blanks.concat(texts).forEach(function (one) {
      if (typeof state[one.id] === "string") { one.value = state[one.id]; }
    });
    ticks.forEach(function (one) { if (state[one.id] === true) { one.checked = true; } });
    if (state.hopper === "full" || state.hopper === "empty") { hopper.value = state.hopper; }
  }

  function value_of(what) {
    var blank = blanks.find(function (b) { return b.dataset.what === what; });
    return blank && plain.test(blank.value) ? blank.value.trim() + " " + blank.dataset.unit : "";
  }

  function reading(blank) {
    var at = JSON.parse(blank.dataset.at), oil = value_of("oil temperature");
    if (Object.keys(at).length) {
      at.hopper = hopper.value;
      if (oil) { at.oil = oil; }
    }
    var one = { what: blank.dataset.what, value: blank.value.trim() + " " + blank.dataset.unit,
      at: at, note: blank.closest("li").dataset.label };
    var text = remark(blank);
    if (text) { one.note += ": " + text; }
    return one;
  }

  function text_of(name) {
    var one = texts.find(function (t) { return t.dataset.text === name; });
    return one ? one.value.replace(/\s+/g, " ").trim() : "";
  }

  function document_of() {
    var notes = [];
    ["unit", "vin", "hours", "weights", "second", "owner"].forEach(function (name) {
      if (text_of(name)) { notes.push(name + ": " + text_of(name)); }
    });
    var remarks = texts.find(function (t) { return t.dataset.text === "remarks"; });
    remarks.value.split(/\n/).forEach(function (line) {
      line = line.replace(/\s+/g, " ").trim();
      for (; line; line = line.slice(180)) { notes.push(line.slice(0, 180)); }
    });
    ticks.forEach(function (one) { if (one.checked) { notes.push("done: " + one.dataset.done); } });
    return { schema: 1, truck: form.dataset.truck, date: text_of("date"), by: text_of("by"),
      notes: notes, reading: blanks.filter(function (b) { return plain.test(b.value); }).map(reading) };
  }

  function save() {
    var content = JSON.stringify(document_of(), null, 2) + "\n";
    var link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([content], { type: "application/json" }));
    link.download = form.dataset.file;
    document.body.appendChild(link);
    link.click();
    link.remove();
    window.setTimeout(function () { URL.revokeObjectURL(link.href); }, 10000);
  }

  function clear() {
    if (!window.confirm("Empty every blank of this sheet?")) { return; }
    blanks.concat(texts).forEach(function (one) { one.value = ""; });
    ticks.forEach(function (one) { one.checked = false; });
    blanks.forEach(flag);
    keep();
    count();
  }

  form.addEventListener("submit", function (event) { event.preventDefault(); });
  form.addEventListener("input", function (event) {
    if (event.target.dataset.what) { flag(event.target); }
    keep();
    count();
  });
  form.addEventListener("change", keep);
  document.getElementById("save").addEventListener("click", save);
  document.getElementById("print").addEventListener("click", function () { window.print(); });
  document.getElementById("clear").addEventListener("click", clear);
  bring_back();
  blanks.forEach(flag);
  count();
  document.getElementById("bar").hidden = false;
  document.getElementById("paper").hidden = true;
})();
