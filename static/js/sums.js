// A sum answers while it is typed: the same address is asked in the background, and its answer put
// in the place of the old one. Without script the button does it. <form data-sum>
(() => {
  const waiting = new WeakMap();
  const work = async (form) => {
    const query = new URLSearchParams(new FormData(form));
    try {
      const answer = await fetch(`${location.pathname}?${query}`, { credentials: "same-origin" });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.querySelector(`#${form.parentElement.id} [data-sum-answer]`);
      if (fresh && String(query) === String(new URLSearchParams(new FormData(form)))) {
        form.querySelector("[data-sum-answer]").replaceWith(fresh);
        form.querySelectorAll(".has-refused").forEach((field) => field.classList.remove("has-refused"));
      }
    } catch { /* no connection: the old answer stays, the button tries again */ }
  };
  document.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-sum]");
    if (!form) return;
    clearTimeout(waiting.get(form));
    waiting.set(form, setTimeout(() => work(form), 350));
  });
})();
