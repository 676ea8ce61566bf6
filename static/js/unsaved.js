// Leaving a form that was typed into, and not sent, is asked about. <form data-unsaved>
(() => {
  document.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-unsaved]");
    if (form) form.dataset.typed = "yes";
  });
  document.addEventListener("submit", (event) => { delete event.target.dataset.typed; });
  window.addEventListener("beforeunload", (event) => {
    if (document.querySelector("form[data-typed]")) event.preventDefault();
  });
})();
