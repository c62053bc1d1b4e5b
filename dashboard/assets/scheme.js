/* Sets light or dark before anything is painted; loaded in the head. The choice is kept under the
   name that the inputs use as well, so that both agree. The units of the address are kept too,
   and every address of ours bears them where they are not SI, so that a link shared from it opens
   the same view. */
(function () {
  var given = new URLSearchParams(window.location.search).get("units");
  if (given === "si" || given === "us") {
    document.cookie = "braidlife-units=" + given + "; path=/; max-age=31536000; samesite=lax";
  }
  function withUnits(url) {
    if (url === undefined || url === null || !/(^|;\s*)braidlife-units=us/.test(document.cookie)) { return url; }
    var full = new URL(url, window.location.href);
    full.searchParams.set("units", "us");
    return full.pathname + full.search + full.hash;
  }
  ["pushState", "replaceState"].forEach(function (name) {
    var plain = window.history[name];
    window.history[name] = function (state, title, url) {
      return plain.call(window.history, state, title, withUnits(url));
    };
  });
  window.history.replaceState(window.history.state, "", window.location.href);

  var kept = null;
  try { kept = window.localStorage.getItem("mantine-color-scheme-value"); } catch (error) { /* private mode */ }
  var dark = kept && kept !== "auto" ? kept === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
  var root = document.documentElement;
  root.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
  root.setAttribute("data-ag-theme-mode", dark ? "dark" : "light");
  root.style.colorScheme = dark ? "dark" : "light";
}());
