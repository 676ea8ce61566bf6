// A page left open turns red at lights-off and pale at lights-on by itself, keeping what is typed.
// <html data-dark-at="instant" data-light-at="instant">: the next of each, ISO 8601 with offset.
// Nothing turns where the keeper chose by hand (data-by-hand).
(() => {
  const page = document.documentElement;
  const scheme = document.querySelector('meta[name="color-scheme"]');
  const turn = (night) => {
    page.classList.toggle("night", night);
    if (scheme) scheme.content = night ? "dark" : "light";
  };
  const look = () => {
    const past = [["darkAt", true], ["lightAt", false]]
      .map(([key, night]) => [Date.parse(page.dataset[key]), night])
      .filter(([at]) => at <= Date.now())
      .sort((a, b) => a[0] - b[0]);
    if (past.length) turn(past[past.length - 1][1]);
  };
  if (!("byHand" in page.dataset)) { look(); setInterval(look, 15000); }

  // The room's clock goes on, in the room's own time zone.
  const clock = document.querySelector("[data-zone]");
  if (!clock) return;
  const said = new Intl.DateTimeFormat("en-GB", {
    timeZone: clock.dataset.zone, hour: "2-digit", minute: "2-digit", hour12: false,
  });
  const tick = () => { clock.textContent = said.format(new Date()); };
  if (!("pretend" in clock.dataset)) setInterval(tick, 15000);
})();
