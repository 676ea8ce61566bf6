// Only the fields of the chosen answer are shown: inside [data-when], a part stands while the
// answer of its name, data-when-part="at" (or one of several names), is chosen. Newer browsers do so without script.
(() => {
  const show = (group) => {
    const chosen = new Set([...group.querySelectorAll("input:checked")].map((input) => input.value));
    group.querySelectorAll("[data-when-part]").forEach((part) => { part.hidden = !part.dataset.whenPart.split(" ").some((answer) => chosen.has(answer)); });
  };
  document.querySelectorAll("[data-when]").forEach((group) => {
    show(group);
    group.addEventListener("change", () => show(group));
  });

  // A new room most likely stands in the device's own time zone.
  const zones = document.querySelector("select[data-device-zone]");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (zones && [...zones.options].some((zone) => zone.value === here)) zones.value = here;
})();
