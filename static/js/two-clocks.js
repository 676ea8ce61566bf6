// Whoever looks from another time zone sees both clocks: the room's, by which everything counts,
// and beside it the device's own.
(() => {
  const shown = document.querySelector(".head-clock");
  const now = new Date(document.body.dataset.now ?? "");
  if (!shown || Number.isNaN(now.valueOf())) return;
  const [hours, minutes] = shown.querySelector("b").textContent.trim().split(":").map(Number);
  // The page may be a minute old, so only clocks that stand a quarter of an hour apart differ.
  const apart = Math.abs((now.getHours() * 60 + now.getMinutes()) - (hours * 60 + minutes)) % 1440;
  if (Math.min(apart, 1440 - apart) < 15) return;
  const two = (number) => String(number).padStart(2, "0");
  const own = document.createElement("span");
  own.className = "head-clock-own";
  own.textContent = `with you ${two(now.getHours())}:${two(now.getMinutes())}`;
  shown.append(own);
})();
