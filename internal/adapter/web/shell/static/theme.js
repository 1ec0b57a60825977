// The page's light or dark dress, before anything is drawn.
(function () {
  var t = null;
  try { t = localStorage.getItem("theme"); } catch (e) { /* private window */ }
  if (t === "light" || t === "dark") document.documentElement.dataset.theme = t;
})();
