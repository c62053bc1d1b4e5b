/* Choices of a page go into the address, beside what stands there already, without redrawing it. */
(function () {
  var clientside = (window.dash_clientside = window.dash_clientside || {});
  clientside.braidlife = Object.assign(clientside.braidlife || {}, {
    fit_columns: function (width, columns) {
      var narrow = width === "narrow", changed = false;
      var fitted = (columns || []).map(function (column) {
        if (!column.context || !column.context.wideOnly || !!column.hide === narrow) { return column; }
        changed = true;
        return Object.assign({}, column, { hide: narrow });
      });
      return changed ? fitted : window.dash_clientside.no_update;
    },
    keep_address: function (values, ids) {
      var query = new URLSearchParams(window.location.search);
      ids.forEach(function (id, i) {
        if (values[i]) { query.set(id.index, values[i]); } else { query.delete(id.index); }
      });
      var text = query.toString();
      window.history.replaceState(window.history.state, "", window.location.pathname + (text ? "?" + text : ""));
      return text;
    }
  });
}());
