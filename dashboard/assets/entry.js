/* Browser side of entering: one press is one entry, however often it is sent; photographs are made
   smaller before they leave the machine that took them. */
(function () {
  var clientside = (window.dash_clientside = window.dash_clientside || {});
  var ids = {};
  var LONGEST_SIDE = 2000;
  var SMALL_ENOUGH = 1200000;

  function freshId() {
    var bytes = window.crypto.getRandomValues(new Uint8Array(16));
    return Array.prototype.map.call(bytes, function (byte) { return ("0" + byte.toString(16)).slice(-2); }).join("");
  }

  /* The same button with the same words in the boxes keeps its id until the screen has changed. */
  function idFor(host, what) {
    var screen = document.querySelector("[data-turn]");
    var boxes = Array.prototype.map.call(host.querySelectorAll("input, textarea"), function (box) {
      return box.type === "file" ? "" : box.type === "checkbox" ? box.checked : box.value;
    });
    var key = JSON.stringify([screen ? screen.getAttribute("data-turn") : "", what, boxes]);
    ids[key] = ids[key] || freshId();
    return ids[key];
  }

  function busy(host) {
    host.setAttribute("aria-busy", "true");
    var seen = new MutationObserver(done);
    var said = document.querySelectorAll(".said");
    function done() { host.removeAttribute("aria-busy"); seen.disconnect(); }
    seen.observe(host, { childList: true, subtree: true, characterData: true });
    said.forEach(function (place) { seen.observe(place, { childList: true, subtree: true, characterData: true }); });
    window.setTimeout(done, 6000);
  }

  /* What takes something away asks on the first press, for as long as one needs to read it. */
  function isMeant(button) {
    if (!button.dataset.confirm || button.dataset.armed) { return true; }
    var words = button.firstChild;
    var label = words.nodeValue;
    button.dataset.armed = "yes";
    words.nodeValue = button.dataset.confirm;
    window.setTimeout(function () {
      delete button.dataset.armed;
      words.nodeValue = label;
    }, 6000);
    return false;
  }

  document.addEventListener("click", function (event) {
    var button = event.target.closest && event.target.closest("[data-send]");
    var host = button && button.closest("[data-sends-to]");
    if (!host || host.getAttribute("aria-busy") === "true" || !isMeant(button)) { return; }
    var sent = { do: button.dataset.send, about: button.dataset.about || "", value: button.dataset.value || "" };
    busy(host);
    /* The last letter typed into a box is handed to the page a moment after it was typed. */
    window.setTimeout(function () {
      sent.id = idFor(host, JSON.stringify([sent.do, sent.about, sent.value]));
      sent.press = Date.now();
      clientside.set_props(host.dataset.sendsTo, { data: sent });
    }, 80);
  });

  /* A new screen begins at its heading, for eyes and for readers of screens. */
  var lastTurn = null;
  new MutationObserver(function () {
    /* The box behind a place to drop files has no name of its own. */
    document.querySelectorAll("input[type=file]:not([aria-label])").forEach(function (box) {
      box.setAttribute("aria-label", (box.parentElement.innerText || "Choose a file").trim());
    });
    var screen = document.querySelector(".screen[data-turn]");
    var turn = screen && screen.getAttribute("data-turn");
    if (!turn || turn === lastTurn) { return; }
    var isFirst = lastTurn === null;
    lastTurn = turn;
    var head = screen.querySelector("h2[tabindex]");
    if (head && !isFirst) {
      head.focus({ preventScroll: true });
      if (screen.getBoundingClientRect().top < 0) { screen.scrollIntoView({ block: "start" }); }
    }
  }).observe(document.documentElement, { childList: true, subtree: true });

  function smaller(contents) {
    return new Promise(function (resolve) {
      var picture = new Image();
      picture.onerror = function () { resolve(contents); };
      picture.onload = function () {
        var factor = Math.min(1, LONGEST_SIDE / Math.max(picture.naturalWidth, picture.naturalHeight));
        if (factor === 1 && contents.length < SMALL_ENOUGH) { resolve(contents); return; }
        var canvas = document.createElement("canvas");
        canvas.width = Math.round(picture.naturalWidth * factor);
        canvas.height = Math.round(picture.naturalHeight * factor);
        canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
        resolve(canvas.toDataURL("image/jpeg", 0.85));
      };
      picture.src = contents;
    });
  }

  function bytesOf(contents) {
    var text = window.atob(contents.slice(contents.indexOf(",") + 1));
    var body = new Uint8Array(text.length);
    for (var at = 0; at < text.length; at += 1) { body[at] = text.charCodeAt(at); }
    return body;
  }

  function keepOne(contents, name, token) {
    return fetch("/incoming?name=" + encodeURIComponent(name), {
      method: "POST", body: bytesOf(contents), headers: { "X-Braidlife-Token": token || "", "Content-Type": "application/octet-stream" }
    }).then(function (answer) { return answer.json(); }).then(function (told) {
      return told.name ? { do: "added", about: told.name, press: Date.now() } : { do: "problem", value: told.problem, press: Date.now() };
    }).catch(function () { return { do: "problem", value: "The file could not be sent: it may be too large.", press: Date.now() }; });
  }

  clientside.braidlife_entry = {
    shrink: function (contents, uploads) {
      var at = (contents || []).findIndex(function (item) { return item; });
      if (at < 0) { return clientside.no_update; }
      var sent = { do: "photo", about: uploads[at].index, id: freshId(), press: Date.now() };
      return smaller(contents[at]).then(function (value) { return Object.assign(sent, { value: value }); });
    },
    check: function (contents, name, token) {
      if (!contents) { return clientside.no_update; }
      return fetch("/check-file?name=" + encodeURIComponent(name), {
        method: "POST", body: bytesOf(contents), headers: { "X-Braidlife-Token": token || "", "Content-Type": "application/octet-stream" }
      }).then(function (answer) {
        return answer.json().catch(function () { return { problem: "The file could not be checked: it may be too large." }; });
      }).catch(function () { return { problem: "The file could not be sent." }; });
    },
    keep: function (contents, names, token) {
      if (!contents || !contents.length) { return clientside.no_update; }
      /* One after the other: each is kept before the next is sent. */
      return contents.reduce(function (before, content, at) {
        return before.then(function (sent) {
          return sent.do === "problem" ? sent : keepOne(content, names[at], token);
        });
      }, Promise.resolve({ do: "added" }));
    },
    land: function (href) {
      if (href) { window.location.assign(href); }
      return clientside.no_update;
    }
  };
}());
