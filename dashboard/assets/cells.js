/* Cells of the large tables. Everything is set as text or attribute, never as markup. */
(function () {
  var cells = (window.dashAgGridComponentFunctions = window.dashAgGridComponentFunctions || {});
  var make = function () { return React.createElement.apply(null, arguments); };

  function size(text) { return String(text || "").length > 60 ? " long" : ""; }

  /* Names of files, columns and parts break between their pieces, like those of dashboard.parts.file_name. */
  function breaking(text) {
    var pieces = String(text || "").split(/(?<=_)|(?<=\.)(?=\d)/);
    if (pieces.length === 1 || / /.test(text)) { return text; }
    return make("span", { className: "file-name" },
      pieces.map(function (piece, i) { return make("span", { key: i }, piece); }));
  }

  function follow(event, href) {
    if (event.metaKey || event.ctrlKey || event.shiftKey || event.button) { return; }
    event.preventDefault();
    window.dash_clientside.braidlife.go(href);
  }

  function link(text, href) {
    return make("a", { href: href, className: "place", title: text, onClick: function (e) { follow(e, href); } }, breaking(text));
  }

  /* value: {text, href, below, hazards} */
  cells.Place = function (props) {
    var value = props.value;
    if (!value) { return null; }
    var name = value.href ? link(value.text, value.href) : make("span", null, value.text);
    var hazards = (value.hazards || []).map(function (word) { return make("span", { className: "hazard", key: word }, word); });
    /* A name too long to show whole is cut; what is dangerous there never is. */
    return make("div", { className: "cell two-lines tall-first" },
      size(value.text) ? [make("div", { className: "first long", key: "name" }, name), make("div", { key: "hazards" }, hazards)]
        : make("div", { className: "first" }, name, hazards),
      make("div", { className: "below", title: value.below }, value.below));
  };

  /* value: {first, below, weight} */
  cells.TwoLines = function (props) {
    var value = props.value;
    if (!value) { return null; }
    return make("div", { className: "cell two-lines", title: [value.first, value.below].filter(Boolean).join(": ") },
      make("div", { className: "first " + (value.weight || "") }, breaking(value.first)),
      value.below ? make("div", { className: "below" }, breaking(value.below)) : null);
  };

  /* value: the drawing places of a dot on a line with its figure and range in words, or {absent} */
  cells.Interval = function (props) {
    var value = props.value;
    if (!value) { return null; }
    if (value.absent) { return make("span", { className: "absent" }, value.absent); }
    return make("div", { className: "cell" },
      make("span", { className: value.classes, role: "img", "aria-label": value.label, title: value.label },
        make("span", { className: "bar", style: { left: value.left + "%", width: value.width + "%" } }),
        make("span", { className: "dot", style: { left: value.dot + "%" } })),
      make("div", { className: "figured" }, value.figure, " ", make("span", { className: "range" }, value.range ? "(" + value.range + ")" : "")));
  };

  /* Header with the scale printed once; params: {ticks: [{at, text}]} */
  cells.ScaleHeader = function (props) {
    var state = React.useState(props.column ? props.column.getSort() : null);
    React.useEffect(function () {
      var tell = function () { state[1](props.column.getSort()); };
      var press = function (event) {
        if (event.key === "Enter" && props.enableSorting) { props.progressSort(event.shiftKey); }
      };
      props.column.addEventListener("sortChanged", tell);
      props.eGridHeader.addEventListener("keydown", press);
      return function () {
        props.column.removeEventListener("sortChanged", tell);
        props.eGridHeader.removeEventListener("keydown", press);
      };
    }, []);
    var sort = function (event) { if (props.enableSorting) { props.progressSort(event.shiftKey); } };
    return make("div", { className: "scale-header", onClick: sort },
      make("span", null, props.displayName, state[0] ? (state[0] === "asc" ? " ↑" : " ↓") : ""),
      make("span", { className: "scale" }, (props.ticks || []).map(function (tick, i) {
        return make("span", { key: i, style: { left: tick.at + "%" } }, tick.text);
      })));
  };
}());
