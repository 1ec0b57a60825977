// What every page does in the browser: keeps what could not be sent, tells mistakes where they were made, follows other windows,
// answers keys. Every page also works without it.
(function () {
  "use strict";
  var doc = document;
  function $(sel, from) { return (from || doc).querySelector(sel); }
  function all(sel, from) { return Array.prototype.slice.call((from || doc).querySelectorAll(sel)); }

  // ---- unsent entries -------------------------------------------------------------------------------------------------
  var STORE = "unsent";
  function unsent() { try { return JSON.parse(localStorage.getItem(STORE) || "[]"); } catch (e) { return []; } }
  function keep(list) {
    try { localStorage.setItem(STORE, JSON.stringify(list)); return true; } catch (e) { return false; }
  }
  function tell() {
    var box = $("#offline"), list = unsent();
    if (!box) return;
    box.hidden = list.length === 0;
    box.textContent = "";
    if (!list.length) return;
    var bad = list.filter(function (x) { return x.trouble; });
    var p = doc.createElement("p");
    p.textContent = bad.length ? "An entry was not taken: " + bad[0].trouble
      : "No connection. " + list.length + (list.length === 1 ? " entry waits" : " entries wait") + " in this browser and will be sent by itself.";
    box.appendChild(p);
    if (bad.length) {
      var b = doc.createElement("button");
      b.type = "button"; b.className = "quiet"; b.textContent = "Drop this entry";
      b.addEventListener("click", function () { keep(unsent().filter(function (x) { return x.key !== bad[0].key; })); tell(); });
      box.appendChild(b);
    }
  }
  var sending = false;
  function send() {
    var list = unsent().filter(function (x) { return !x.trouble; });
    if (sending || !list.length) return;
    sending = true;
    var one = list[0];
    fetch(one.url, { method: "POST", body: new URLSearchParams(one.fields), headers: { "HX-Request": "true" }, credentials: "same-origin" })
      .then(function (r) {
        if (r.ok) { keep(unsent().filter(function (x) { return x.key !== one.key; })); return refresh().then(function () { return "again"; }); }
        if (r.status >= 500 || r.status === 429 || r.status === 401) return null;
        return r.text().then(function (t) {
          keep(unsent().map(function (x) { if (x.key === one.key) x.trouble = t.trim() || "refused"; return x; }));
        });
      })
      .catch(function () { return null; })
      .then(function (next) { sending = false; tell(); if (next) send(); });
  }
  setInterval(send, 3000);
  window.addEventListener("online", send);
  doc.addEventListener("htmx:sendError", function (e) {
    var form = e.detail.elt.closest ? e.detail.elt.closest("form") : null;
    var cfg = e.detail.requestConfig || {};
    if (cfg.verb !== "post" || !form) { say(form, "No connection to the program. Nothing is lost; try again in a moment."); return; }
    if (form.enctype === "multipart/form-data") { say(form, "No connection: the file was not sent. Send it again when the connection is back."); return; }
    var fields = [], key = "";
    var data = cfg.formData || new FormData(form);
    data.forEach(function (v, k) { if (typeof v === "string") { fields.push([k, v]); if (k === "key") key = v; } });
    if (!key) { say(form, "No connection: this was not sent. Try again."); return; }
    var list = unsent();
    if (!list.some(function (x) { return x.key === key; })) list.push({ url: cfg.path, fields: fields, key: key });
    if (!keep(list)) { say(form, "No connection, and this browser keeps nothing: leave the page open and try again."); return; }
    tell();
  });

  // ---- mistakes at their place ----------------------------------------------------------------------------------------
  function say(form, text) {
    var at = form && $(".form-error", form);
    if (!at) { at = $("#offline"); if (!at) return; }
    at.textContent = text;
    at.hidden = false;
    if (form) at.scrollIntoView({ block: "nearest" });
  }
  doc.addEventListener("htmx:responseError", function (e) {
    var form = e.detail.elt.closest && e.detail.elt.closest("form");
    say(form, (e.detail.xhr.responseText || "That did not work.").slice(0, 2000));
  });
  doc.addEventListener("htmx:beforeRequest", function (e) {
    var form = e.detail.elt.closest && e.detail.elt.closest("form");
    all(".form-error", form || doc).forEach(function (p) { p.hidden = true; });
  });

  // ---- other windows --------------------------------------------------------------------------------------------------
  var source = null, sourceURL = "";
  function follow() {
    var head = $("[data-live]"), url = head ? head.dataset.live : "";
    if (url === sourceURL) return;
    if (source) source.close();
    source = null; sourceURL = url;
    if (!url || !window.EventSource) return;
    source = new EventSource(url);
    source.onmessage = function (e) {
      var now = $("[data-live]");
      if (now && Number(e.data) > Number(now.dataset.seq)) setTimeout(newer, 400, Number(e.data));
    };
  }
  function busy() {
    if ($("dialog[open]")) return true;
    return all("#content input, #content textarea, #content select").some(function (x) {
      if (x.type === "hidden" || x.type === "search" || x.hasAttribute("data-idle")) return false;
      if (x.type === "checkbox" || x.type === "radio") return x.checked !== x.defaultChecked;
      if (x.type === "file") return x.value !== "";
      if (x.tagName === "SELECT") return all("option", x).some(function (o) { return o.selected !== o.defaultSelected; }) && all("option", x).some(function (o) { return o.defaultSelected; });
      return x.value !== x.defaultValue;
    });
  }
  function newer(seq) {
    var now = $("[data-live]");
    if (!now || seq <= Number(now.dataset.seq)) return;
    if (!busy()) { refresh(); return; }
    if ($("#newer")) return;
    var p = doc.createElement("p");
    p.id = "newer"; p.className = "note"; p.setAttribute("role", "status");
    p.textContent = "Another window has written in this job. ";
    var b = doc.createElement("button");
    b.type = "button"; b.className = "quiet"; b.textContent = "Show the new state";
    b.addEventListener("click", refresh);
    p.appendChild(b);
    var c = $("#content"); if (c) c.prepend(p);
  }
  function refresh() {
    if (!window.htmx || !$("#main")) return Promise.resolve();
    return htmx.ajax("GET", location.pathname + location.search, { target: "#main", select: "#main", swap: "outerHTML show:none" }).catch(function () {});
  }

  // ---- what is still being worked out ---------------------------------------------------------------------------------
  var asking = false;
  setInterval(function () { // the diagnosis is on its way: the page is loaded anew when it is there, unless somebody is writing in it
    var head = $("[data-wait]");
    if (!head || asking || busy()) return;
    asking = true;
    fetch(head.dataset.live.replace(/live$/, "ready"), { credentials: "same-origin" })
      .then(function (r) { return r.status === 200 && $("[data-wait]") && !busy() ? refresh() : null; })
      .catch(function () {})
      .then(function () { asking = false; });
  }, 500);

  // ---- keys and taps --------------------------------------------------------------------------------------------------
  doc.addEventListener("keydown", function (e) {
    var t = e.target;
    if ((e.key === "Enter" || e.key === " ") && t.closest && t.closest("[data-place]")) { e.preventDefault(); open(t.closest("[data-place]")); return; }
    if (e.ctrlKey || e.metaKey || e.altKey || /^(INPUT|TEXTAREA|SELECT)$/.test(t.tagName) || t.isContentEditable || $("dialog[open]")) return;
    var b = all("[data-key]").filter(function (x) { return x.dataset.key === e.key && !x.disabled && (x.offsetParent !== null || x.hasAttribute("data-unfold")); })[0];
    if (!b) return;
    e.preventDefault();
    if (b.hasAttribute("data-unfold")) b.closest("details").open = true;
    if (/^(INPUT|TEXTAREA)$/.test(b.tagName) && b.type !== "checkbox") { b.focus(); b.select(); } else b.click();
  });
  function open(el) {
    var holder = el.closest("[data-places]");
    if (!holder || !window.htmx) return;
    var d = $("#sheet");
    if (!d) return;
    htmx.ajax("GET", holder.dataset.places + "?at=" + encodeURIComponent(el.dataset.place), { target: "#sheet", select: "#sheet-content", swap: "innerHTML" });
  }
  doc.addEventListener("click", function (e) {
    var t = e.target.closest ? e.target : null;
    if (!t) return;
    var place = t.closest("[data-place]");
    if (place && !t.closest("a, button")) { open(place); return; }
    if (t.closest("[data-close]")) { var d = t.closest("dialog"); if (d) d.close(); return; }
    if (t.closest("[data-print]")) { window.print(); return; }
    if (t.closest("[data-theme-switch]")) {
      var root = doc.documentElement, dark = root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
      root.dataset.theme = dark ? "light" : "dark";
      try { localStorage.setItem("theme", root.dataset.theme); } catch (err) { /* private window */ }
      return;
    }
    var more = t.closest("[data-add]");
    if (more) {
      var tpl = doc.getElementById(more.dataset.add);
      if (tpl) { more.before(tpl.content.cloneNode(true)); var f = $("input, select", more.previousElementSibling); if (f) f.focus(); }
      return;
    }
    var zoom = t.closest("[data-zoom]");
    if (zoom) {
      var pic = zoom.closest("figure"), svg = pic && $("svg", pic);
      if (!svg) return;
      var z = Number(svg.dataset.scale || 1) * (zoom.dataset.zoom === "in" ? 1.35 : zoom.dataset.zoom === "out" ? 1 / 1.35 : 1);
      z = Math.min(6, Math.max(0.3, z));
      if (zoom.dataset.zoom === "fit") {
        svg.removeAttribute("width"); svg.removeAttribute("height"); svg.dataset.scale = 1;
        pic.classList.add("fit"); pic.classList.remove("zoomed");
        return;
      }
      pic.classList.remove("fit");
      svg.dataset.scale = z;
      svg.setAttribute("width", svg.viewBox.baseVal.width * z);
      svg.setAttribute("height", svg.viewBox.baseVal.height * z);
      pic.classList.add("zoomed");
    }
  });
  doc.addEventListener("submit", function (e) {
    var ask = e.target.dataset && e.target.dataset.ask;
    if (ask && !window.confirm(ask)) { e.preventDefault(); e.stopPropagation(); }
  }, true);

  // ---- clocks ---------------------------------------------------------------------------------------------------------
  setInterval(function () {
    all("[data-clock][data-running]").forEach(function (x) {
      var s = Number(x.dataset.clock) + 1;
      x.dataset.clock = s;
      var m = Math.floor(s / 60);
      x.textContent = m < 60 ? m + " min" : Math.floor(m / 60) + " h " + ("0" + m % 60).slice(-2) + " min";
    });
  }, 1000);

  // ---- after every change of the page ---------------------------------------------------------------------------------
  function settle() {
    follow();
    var r = $("[data-rail]");
    if (r && window.innerWidth < 1000) r.open = false;
    all("figure.natural .canvas:not([data-placed])").forEach(function (x) { // the middle of what is asked about comes into view
      x.dataset.placed = "1";
      var hot = $(".pin-hot, .body-hot, .wire-hot", x);
      if (!hot) return;
      var a = hot.getBoundingClientRect(), b = x.getBoundingClientRect();
      x.scrollLeft += a.left - b.left - b.width / 2 + a.width / 2;
      x.scrollTop += a.top - b.top - b.height / 2 + a.height / 2;
    });
  }
  doc.addEventListener("htmx:afterSettle", function (e) {
    settle();
    var main = e.detail.target;
    if (main && main.id === "main" && (doc.activeElement === doc.body || !doc.activeElement)) {
      var f = $("[data-focus]") || $("#content");
      if (f) f.focus({ preventScroll: true });
    }
    if (main && main.id === "sheet" && $("#sheet-content", main) && !main.open) main.showModal();
  });
  doc.addEventListener("DOMContentLoaded", function () { settle(); tell(); send(); });
  if (doc.readyState !== "loading") { settle(); tell(); }
})();
