/* What a reader chooses stands in the address, beside what stands there already and without drawing
   the page anew. Each choice, each order and each page of a table is one step that Back undoes; all
   letters typed into one box while one is in it are one step. */
(function () {
  var clientside = (window.dash_clientside = window.dash_clientside || {});
  var noUpdate = function () { return window.dash_clientside.no_update; };

  function here() { return window.location.pathname + window.location.search; }

  /* shown: the address of what is on the screen. told: the address by which the page was drawn. */
  var shown = here(), told = shown;
  /* Whether letters of the box that one is in have made a step already. */
  var isTyping = false;
  document.addEventListener("focusin", function () { isTyping = false; }, true);

  function keep(wanted, isTyped) {
    var query = new URLSearchParams(window.location.search);
    var before = Array.from(query).sort().join("&");
    Object.keys(wanted).forEach(function (name) {
      if (wanted[name]) { query.set(name, wanted[name]); } else { query.delete(name); }
    });
    var isChanged = Array.from(query).sort().join("&") !== before;
    if (isChanged) {
      var text = query.toString();
      var how = isTyped && isTyping ? "replaceState" : "pushState";
      window.history[how](window.history.state, "", window.location.pathname + (text ? "?" + text : ""));
      isTyping = isTyped;
      shown = here();
    }
    return isChanged;
  }

  /* Other filters leave other rows: their first page is shown. */
  function keepFilters(values) {
    var triggered = window.dash_clientside.callback_context.triggered || [];
    var isTyped = triggered.length > 0 && triggered.every(function (item) { return /text\b/.test(item.prop_id); });
    keep(Object.assign({}, values, differs(values) ? { page: "" } : {}), isTyped);
  }

  function differs(values) {
    var query = new URLSearchParams(window.location.search);
    return Object.keys(values).some(function (name) { return (query.get(name) || "") !== (values[name] || ""); });
  }

  /* Back, Forward and links: the page is drawn by its address. Dash does so by itself, except where the
     address is again the one by which it drew the page last and only choices lie in between. */
  function moved() {
    isTyping = false;
    if (here() === shown) { return; }
    if (here() === told) {
      window.dash_clientside.set_props("_pages_location", { search: window.location.search });
    }
    shown = told = here();
  }
  window.addEventListener("popstate", moved);
  window.addEventListener("_dashprivate_pushstate", moved);

  /* Order and page of a table: read from it after its headings or its pager were used. */
  function keepTable(id) {
    var api = window.dash_ag_grid && window.dash_ag_grid.getApi(id);
    if (!api) { return; }
    var order = api.getColumnState().filter(function (column) { return column.sort; });
    order.sort(function (a, b) { return a.sortIndex - b.sortIndex; });
    var sort = order.map(function (column) {
      var context = api.getColumn(column.colId).getColDef().context || {};
      return (column.sort === "desc" ? "-" : "") + (context.called || column.colId);
    }).join(",");
    if (sort !== (new URLSearchParams(window.location.search).get("sort") || "")) { api.paginationGoToFirstPage(); }
    var page = api.paginationGetCurrentPage();
    keep({ sort: sort, page: page ? String(page + 1) : "" }, false);
  }
  function used(event) {
    if (event.type === "keydown" && event.key !== "Enter" && event.key !== " ") { return; }
    var part = event.target.closest && event.target.closest(".grid .ag-header, .grid .ag-paging-panel");
    if (part) { window.setTimeout(keepTable, 0, part.closest(".grid").id); }
  }
  document.addEventListener("click", used);
  document.addEventListener("keydown", used);

  clientside.braidlife = Object.assign(clientside.braidlife || {}, {
    fit_columns: function (width, columns) {
      var narrow = width === "narrow", changed = false;
      var fitted = (columns || []).map(function (column) {
        if (!column.context || !column.context.wideOnly || !!column.hide === narrow) { return column; }
        changed = true;
        return Object.assign({}, column, { hide: narrow });
      });
      return changed ? fitted : noUpdate();
    },
    keep_address: function (values, ids, offered) {
      /* The first of what is offered is the usual choice and stays out of the address. */
      var wanted = {};
      ids.forEach(function (id, i) {
        var usual = offered[i] && offered[i][0] && offered[i][0].value;
        wanted[id.index] = values[i] === usual ? "" : values[i] || "";
      });
      keepFilters(wanted);
      return window.location.search;
    },
    keep_filters: function () {
      /* Values of the boxes, in the order of FILTERS. */
      var names = ["site", "line", "application_class", "construction", "hazard", "flag", "text"];
      var values = Array.prototype.slice.call(arguments, 0, names.length);
      var wanted = {}, chosen = {}, model = {};
      names.forEach(function (name, i) {
        var value = typeof values[i] === "string" ? values[i].trim() : values[i];
        wanted[name] = value || "";
        if (!value) { return; }
        chosen[name] = value;
        model["filter_" + name] = { filterType: "text", type: "equals", filter: value };
      });
      keepFilters(wanted);
      return [chosen, model];
    }
  });
}());
