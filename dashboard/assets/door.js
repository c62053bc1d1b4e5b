/* The door: whoever sits unobserved may see the password while it is typed, until it is sent. */
(function () {
  document.querySelectorAll("[data-shows]").forEach(function (box) {
    var field = document.getElementById(box.dataset.shows);
    function show(isShown) { field.type = isShown ? "text" : "password"; }
    box.closest("label").hidden = false;
    box.addEventListener("change", function () { show(box.checked); });
    field.form.addEventListener("submit", function () { show(false); });
  });
}());
