// The rooms open in place instead of through the address, and close with Escape.
(() => {
  const rooms = document.getElementById("rooms");
  const open = document.querySelector(".head-open");
  if (!rooms || !open) return;
  const close = rooms.querySelector(".rooms-close a");
  const show = (yes) => {
    rooms.classList.toggle("is-open", yes);
    (yes ? rooms.querySelector("a") : open).focus();
  };
  open.addEventListener("click", (event) => { event.preventDefault(); show(true); });
  close.addEventListener("click", (event) => {
    if (!rooms.classList.contains("is-open")) return;
    event.preventDefault();
    show(false);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && rooms.classList.contains("is-open")) show(false);
  });
})();
