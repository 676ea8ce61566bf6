// Leaving a form that was typed into, and not sent, is asked about. <form data-guard>
(() => {
  const typed = new Set();
  document.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-guard]");
    if (form) typed.add(form);
  });
  document.addEventListener("submit", (event) => typed.delete(event.target));
  window.addEventListener("beforeunload", (event) => {
    if (typed.size) event.preventDefault();
  });
})();
