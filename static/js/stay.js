// After a tap on Today the page comes back as it stood: the same folds open, and the line that is
// next where it was under the finger. (Without script the address names that line, and the server
// opens its fold.)
(() => {
  const KEPT = "today-stays";
  const named = (fold) => fold.id || fold.querySelector("summary")?.textContent;
  const told = () => { try { return JSON.parse(sessionStorage.getItem(KEPT)); } catch { return null; } };
  document.addEventListener("submit", (event) => {
    if (event.defaultPrevented || !event.target.closest(".today-work")) return;
    const tops = {};
    document.querySelectorAll(".today-work .job[id]").forEach((job) => {
      const { top, height } = job.getBoundingClientRect();
      if (height) tops[job.id] = top;
    });
    const open = [...document.querySelectorAll("details")].filter((fold) => fold.open).map(named);
    try { sessionStorage.setItem(KEPT, JSON.stringify({ tops, open, at: scrollY })); } catch { /* a full or barred store: the address still names the line */ }
  });
  const kept = told();
  sessionStorage.removeItem(KEPT);
  const next = decodeURIComponent(location.hash.slice(1));
  if (!kept || !next) return;
  document.querySelectorAll("details").forEach((fold) => {
    if (kept.open.includes(named(fold))) fold.open = true;
  });
  const stay = () => {
    const line = document.getElementById(next);
    if (!line || !(next in kept.tops)) { scrollTo(0, kept.at); return; }
    const { top, height } = line.getBoundingClientRect();
    scrollBy(0, top - Math.max(0, Math.min(kept.tops[next], innerHeight - height)));
  };
  stay();
  addEventListener("load", () => requestAnimationFrame(stay));
})();
