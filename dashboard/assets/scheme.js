/* Sets light or dark before anything is painted; loaded in the head. The choice is kept under the
   name that the inputs use as well, so that both agree. */
(function () {
  var kept = null;
  try { kept = window.localStorage.getItem("mantine-color-scheme-value"); } catch (error) { /* private mode */ }
  var dark = kept && kept !== "auto" ? kept === "dark" : window.matchMedia("(prefers-color-scheme: dark)").matches;
  var root = document.documentElement;
  root.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
  root.setAttribute("data-ag-theme-mode", dark ? "dark" : "light");
  root.style.colorScheme = dark ? "dark" : "light";
}());
