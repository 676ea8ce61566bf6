// A page left open turns red at lights-off and pale at lights-on by itself, and its clock goes on.
// <body data-now="instant" data-turns-at="instant">: both the server's, so that a device whose own
// clock is wrong still turns at the right moment. A form that is half filled keeps what is typed.
(() => {
  const root = document.documentElement;
  const { now, turnsAt } = document.body.dataset;
  const loaded = Date.now();
  let turned = false;
  const wait = Date.parse(turnsAt) - Date.parse(now);
  const clock = document.querySelector(".head-clock b");
  const shown = clock && clock.textContent.split(":").map(Number);

  // In the dark a calendar or a clock face would open as a white sheet that no style reaches:
  // days and hours are typed instead.
  const type = () => {
    if (!root.classList.contains("night")) return;
    document.querySelectorAll('input[type="date"], input[type="time"]').forEach((input) => {
      input.placeholder = input.type === "date" ? "year-month-day" : "hour:minute";
      input.type = "text";
    });
  };
  // Loaded anew only where the room answers: a browser's own page for a lost connection is white.
  const turn = async () => {
    if (!document.querySelector("form[data-typed]") && await roomAnswers()) { location.reload(); return; }
    const night = root.classList.toggle("night");
    root.classList.toggle("day", !night);
    document.querySelector('meta[name="color-scheme"]').content = night ? "dark" : "light";
    type();
  };
  const look = () => {
    const gone = Date.now() - loaded;
    if (shown) {
      const minutes = (shown[0] * 60 + shown[1] + Math.floor((Date.parse(now) % 60000 + gone) / 60000)) % 1440;
      clock.textContent = [minutes / 60, minutes % 60].map((part) => String(Math.floor(part)).padStart(2, "0")).join(":");
    }
    if (wait > 0 && gone >= wait && !turned) { turned = true; turn(); }
  };
  setInterval(look, 10000);
  document.addEventListener("visibilitychange", look);
  type();
})();
