// Typing a date or an hour chooses the answer it belongs to, so that "now" is never left standing
// beside an hour that was typed.
(() => {
  document.querySelectorAll(".when").forEach((when) => {
    when.querySelectorAll(".when-parts input").forEach((input) => {
      input.addEventListener("input", () => {
        if (!input.value || input.type === "radio" || input.type === "checkbox") return;
        const value = input.closest(".when-until") ? "between" : "earlier";
        const now = when.querySelector('[value="now"]:checked');
        const chosen = when.querySelector(`[value="${value}"]`);
        if (chosen && (now || value === "between")) chosen.checked = true;
      });
    });
  });
})();
