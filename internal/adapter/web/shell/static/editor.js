/* The editor of a board: what is typed stays in the browser until the program has confirmed that it keeps it, and a finding's line is
   selected in the text. Without this script the editor is a plain form. */
(function () {
  "use strict";
  var doc = document;
  function area() { return doc.querySelector("#editor #text"); }
  function slot() { var f = doc.getElementById("editor"); return f ? "board-draft-" + f.dataset.draft : ""; }
  function keep(text) { try { localStorage.setItem(slot(), text); } catch (e) { /* private window or full: the program keeps it */ } }
  function forget(key) { try { localStorage.removeItem(key); } catch (e) { /* as above */ } }
  function held(key) { try { return localStorage.getItem(key); } catch (e) { return null; } }

  var sent = {};
  doc.addEventListener("input", function (e) { if (e.target === area()) keep(e.target.value); caret(e); });
  doc.addEventListener("htmx:configRequest", function (e) {
    var p = e.detail.parameters, t = area();
    if (t && p && p.text !== undefined) sent[slot()] = t.value;
  });
  doc.addEventListener("htmx:afterRequest", function (e) {
    var xhr = e.detail.xhr, key = slot();
    if (!key || !xhr || xhr.status < 200 || xhr.status > 399) return;
    var t = area();
    if (held(key) !== null && held(key) === sent[key] && (!t || t.value === sent[key])) forget(key);
  });
  doc.addEventListener("submit", function (e) {
    if (e.target.dataset && e.target.dataset.forget) forget("board-draft-" + e.target.dataset.forget);
  });

  function settle() {
    var t = area();
    doc.querySelectorAll(".js-off").forEach(function (b) { b.hidden = true; });
    if (!t || t.dataset.settled) return;
    t.dataset.settled = "1";
    var text = held(slot());
    if (text === null) return;
    if (text === t.value) { forget(slot()); return; }
    t.value = text;
    var note = doc.getElementById("restored");
    if (note) { note.textContent = "What was typed last had not reached the program; this browser had kept it, and it is back in the text."; note.hidden = false; }
    if (window.htmx) htmx.trigger(t, "recheck");
  }

  function select(line, col) {
    var t = area();
    if (!t) return;
    var from = 0;
    for (var i = 1; i < line; i++) { var n = t.value.indexOf("\n", from); if (n < 0) break; from = n + 1; }
    var to = t.value.indexOf("\n", from);
    if (to < 0) to = t.value.length;
    t.focus();
    t.setSelectionRange(from, to);
    var high = parseFloat(getComputedStyle(t).lineHeight) || 22;
    t.scrollTop = Math.max(0, (line - 4) * high);
    t.scrollIntoView({ block: "nearest" });
    caret();
  }
  function caret() {
    var t = area(), c = doc.getElementById("caret");
    if (!t || !c || doc.activeElement !== t) return;
    c.textContent = "line " + t.value.slice(0, t.selectionStart).split("\n").length;
  }
  doc.addEventListener("click", function (e) {
    var b = e.target.closest ? e.target.closest("[data-line]") : null;
    if (b) select(Number(b.dataset.line), Number(b.dataset.col || 1));
  });
  doc.addEventListener("selectionchange", caret);
  doc.addEventListener("htmx:afterSettle", settle);
  // Enter in the search field looks for the part instead of saving the board.
  doc.addEventListener("keydown", function (e) {
    if (e.key === "Enter" && e.target.id === "find") e.preventDefault();
  });
  doc.addEventListener("DOMContentLoaded", settle);
  if (doc.readyState !== "loading") settle();
})();
