/* Browser side of the shell: where we are, light and dark, figures in the colours of the scheme. */
(function () {
  var root = document.documentElement;
  var clientside = (window.dash_clientside = window.dash_clientside || {});

  function isDark() { return root.getAttribute("data-mantine-color-scheme") === "dark"; }

  function setScheme(dark) {
    root.setAttribute("data-mantine-color-scheme", dark ? "dark" : "light");
    root.setAttribute("data-ag-theme-mode", dark ? "dark" : "light");
    root.style.colorScheme = dark ? "dark" : "light";
  }

  function exchanges(from, to) {
    var style = getComputedStyle(root);
    var map = {};
    style.getPropertyValue("--roles").replace(/["']/g, "").trim().split(/\s+/).forEach(function (role) {
      map[style.getPropertyValue("--" + from + "-" + role).trim().toLowerCase()] =
        style.getPropertyValue("--" + to + "-" + role).trim();
    });
    return map;
  }

  function recoloured(value, map) {
    if (typeof value === "string") { return map[value.toLowerCase()] || value; }
    if (Array.isArray(value)) { return value.map(function (item) { return recoloured(item, map); }); }
    if (value && typeof value === "object") {
      if (value.bdata !== undefined) { return value; }
      var copy = {};
      Object.keys(value).forEach(function (key) { copy[key] = recoloured(value[key], map); });
      return copy;
    }
    return value;
  }

  clientside.braidlife = Object.assign(clientside.braidlife || {}, {
    mark_page: function (path, ids) {
      return (ids || []).map(function (id) {
        var here = id.index === "/" ? path === "/" : path === id.index || path.indexOf(id.index + "/") === 0;
        return here ? "here" : "";
      });
    },
    switch_scheme: function (clicks) {
      if (clicks) {
        setScheme(!isDark());
        try { window.localStorage.setItem("mantine-color-scheme-value", isDark() ? "dark" : "light"); } catch (error) { /* private mode */ }
      }
      return [isDark() ? "dark" : "light", isDark() ? "Light" : "Dark"];
    },
    recolour: function (figure) {
      if (!figure) { return window.dash_clientside.no_update; }
      return isDark() ? recoloured(figure, exchanges("light", "dark")) : figure;
    },
    clear_filters: function () { return [null, null, null, null, null, null, ""]; },
    follow_hit: function (href) {
      if (typeof href !== "string" || !/^\/(places|spares)\b/.test(href)) { return window.dash_clientside.no_update; }
      clientside.braidlife.go(href);
      return null;
    },
    go: function (href) {
      window.dash_clientside.set_props("shell-goto", { href: href });
    }
  });

  /* A narrow screen shows lists instead of wide tables. */
  var narrow = window.matchMedia("(max-width: 760px)");
  function tellWidth() {
    if (window.dash_clientside.set_props && document.getElementById("shell-content")) {
      window.dash_clientside.set_props("shell-width", { data: narrow.matches ? "narrow" : "wide" });
    } else { window.setTimeout(tellWidth, 50); }
  }
  narrow.addEventListener("change", tellWidth);
  tellWidth();

  /* Enter in the search box takes the first hit, or all places with the text when none came yet. */
  document.addEventListener("keydown", function (event) {
    var box = event.target;
    if (event.key !== "Enter" || box.id !== "shell-search" || !box.value.trim()) { return; }
    var list = document.getElementById(box.getAttribute("aria-controls"));
    if (list && list.querySelector("[data-combobox-selected]")) { return; }
    event.preventDefault();
    event.stopPropagation();
    var first = list && list.querySelector("[role=option]");
    if (first) { first.click(); } else {
      clientside.braidlife.go("/places?text=" + encodeURIComponent(box.value.trim()));
    }
  }, true);

  /* The other units: the same page under the same filters, asked for anew. */
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("#shell-units");
    if (!link) { return; }
    event.preventDefault();
    var address = new URL(window.location.href);
    address.searchParams.set("units", new URLSearchParams(link.search).get("units"));
    window.location.assign(address.href);
  });

  /* Paper is white: figures of the dark scheme are drawn in the light one while printing. */
  function redraw(from, to) {
    var map = exchanges(from, to);
    document.querySelectorAll(".js-plotly-plot").forEach(function (plot) {
      if (window.Plotly && plot.data) {
        window.Plotly.react(plot, recoloured(plot.data, map), recoloured(plot.layout, map), { displayModeBar: false, showSendToCloud: false, displaylogo: false });
      }
    });
  }
  window.addEventListener("beforeprint", function () { if (isDark()) { redraw("dark", "light"); } });
  window.addEventListener("afterprint", function () { if (isDark()) { redraw("light", "dark"); } });

  /* A word's meaning opens towards the side where there is room, and closes with Escape. */
  function openTerm(event) {
    var place = event.target.closest && event.target.closest(".term-place");
    if (!place) { return; }
    place.classList.remove("shut");
    place.classList.toggle("from-right", place.getBoundingClientRect().left > window.innerWidth - 330);
  }
  document.addEventListener("mouseover", openTerm);
  document.addEventListener("focusin", openTerm);
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape") {
      document.querySelectorAll(".term-place:hover, .term-place:focus-within").forEach(function (place) { place.classList.add("shut"); });
    }
  });

  /* The pager of a long table stays in sight: the next page is read from its first row. */
  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest(".grid .ag-paging-button");
    var room = button && button.closest(".grid-room");
    if (room && room.getBoundingClientRect().top < 0) { room.scrollIntoView({ block: "start" }); }
  });

  /* On a phone the filters stand folded until asked for. */
  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest("button.unfolds");
    if (button) { button.setAttribute("aria-expanded", String(button.getAttribute("aria-expanded") !== "true")); }
  });

  /* An open "how do you know" closes with Escape or a click elsewhere. */
  document.addEventListener("keydown", function (event) {
    if (event.key !== "Escape") { return; }
    document.querySelectorAll("details.how[open]").forEach(function (item) {
      item.removeAttribute("open");
      item.querySelector("summary").focus();
    });
  });
  document.addEventListener("click", function (event) {
    document.querySelectorAll("details.how[open]").forEach(function (item) {
      if (!item.contains(event.target)) { item.removeAttribute("open"); }
    });
  });
}());
