// What the figures of a count say so far, while they are typed: the form is sent as the button
// "Work it out" sends it, and the answer's own part is put in place. Nothing is saved by it, and
// without the network the button stays.
(() => {
  document.querySelectorAll("[data-count]").forEach((group) => {
    const form = group.closest("form");
    const place = group.querySelector("[data-worked]");
    let wait = 0, asked = 0;
    const work = async () => {
      const mine = ++asked;
      const body = new FormData(form);
      body.set("work_out", "yes");
      try {
        const answer = await fetch(form.getAttribute("action") || location.href, { method: "POST", body });
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const found = page.querySelector("[data-worked]");
        if (mine === asked && found) place.replaceChildren(...found.childNodes);
      } catch { /* no network: the button asks again */ }
    };
    group.addEventListener("input", (event) => {
      if (event.target.name === "how") place.replaceChildren(); // another way: the old answer goes
      clearTimeout(wait);
      wait = setTimeout(work, 600);
    });
  });
})();
