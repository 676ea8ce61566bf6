// Before a form is sent the room is asked whether it answers. The browser's own page for a lost
// connection is white, which stops a hatch, and takes what was typed with it; so where nobody
// answers the form stays as it is, with its key, and one tap sends it again.
// <script data-health="address">: a page that asks the records nothing.
(() => {
  const LIMIT_MS = 5000;
  const { health } = document.currentScript.dataset;
  // Whether the room answers. Also asked by night.js before it loads a page anew.
  window.roomAnswers = async () => {
    const limit = new AbortController();
    const timer = setTimeout(() => limit.abort(), LIMIT_MS);
    try {
      return (await fetch(health, { cache: "no-store", credentials: "omit", signal: limit.signal })).ok;
    } catch {
      return false;
    } finally {
      clearTimeout(timer);
    }
  };

  const asked = new WeakSet();
  const answered = new WeakSet();
  const waits = (form, waiting) => form.querySelectorAll("button").forEach((button) => {
    if (waiting) button.setAttribute("aria-disabled", "true"); else button.removeAttribute("aria-disabled");
  });
  const unsay = () => document.querySelector(".no-connection")?.remove();
  const say = (form, submitter) => {
    unsay();
    const bar = document.createElement("div");
    const words = document.createElement("p");
    const again = document.createElement("button");
    bar.className = "no-connection";
    words.setAttribute("role", "alert");
    again.className = "button";
    again.type = "button";
    again.textContent = "Try again";
    again.addEventListener("click", () => send(form, submitter));
    bar.append(words, again);
    document.querySelector("main").append(bar);
    words.textContent = "No connection: nothing is sent yet and nothing is lost.";
  };
  const send = async (form, submitter) => {
    if (asked.has(form)) return;
    asked.add(form);
    waits(form, true);
    const there = await roomAnswers();
    asked.delete(form);
    waits(form, false);
    if (!there) { say(form, submitter); return; }
    unsay();
    answered.add(form);
    form.requestSubmit(submitter);
    answered.delete(form); // a field that the browser itself refuses lets it go no further
  };
  // Stands before the other scripts that listen to a form: they hear of it once it really goes.
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || !form.requestSubmit) return;
    if (answered.delete(form)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (!form.dataset.sent) send(form, event.submitter);
  });
})();
