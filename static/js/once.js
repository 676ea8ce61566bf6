// A form is sent once: a second tap on a wet pane does nothing. (The server's entry key is what
// makes a double harmless; this only spares the keeper the question.)
(() => {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented) return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    form.querySelectorAll("button").forEach((b) => b.setAttribute("aria-disabled", "true"));
  });
  window.addEventListener("pageshow", () => {
    document.querySelectorAll("form[data-sent]").forEach((form) => {
      delete form.dataset.sent;
      form.querySelectorAll("button").forEach((b) => b.removeAttribute("aria-disabled"));
    });
  });
})();
