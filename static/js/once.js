// A form is sent once: a second tap on a wet pane does nothing. (The server's entry key is what
// makes a double harmless; this only spares the keeper the question.) The device's own time goes
// along, so that what was entered late, or sent late, can be told apart.
(() => {
  const mark = (form, sent) => {
    if (sent) form.dataset.sent = "yes"; else delete form.dataset.sent;
    form.querySelectorAll("button").forEach((button) => {
      if (sent) button.setAttribute("aria-disabled", "true"); else button.removeAttribute("aria-disabled");
    });
  };
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || !form.matches("[data-once]")) return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    const noted = form.querySelector('input[name="noted_at"]');
    if (noted) noted.value = new Date().toISOString();
    mark(form, true);
  });
  // Back through the browser's history: the form may be sent again, under the same key.
  window.addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => mark(form, false)));
})();
