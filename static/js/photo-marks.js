// Marks on a picture without waiting for the server: a touch sets a ring, a touch on a ring takes
// it away. The marks stand in the form's own field, as shares of the picture, and are saved with
// its buttons. Without script each touch is sent by the image button itself.
(() => {
  const figure = document.querySelector("[data-photo-marks]");
  if (!figure) return;
  const form = figure.closest("form");
  const field = form.elements.marks;
  const picture = figure.querySelector("input[type=image]");
  const drawing = figure.querySelector("svg");
  const near = 14; // pixels: as wide as a fingertip lets one aim
  let marks = field.value.split(" ").filter(Boolean).map((mark) => mark.split(",").map(Number));

  const byScript = document.createElement("input");
  Object.assign(byScript, { type: "hidden", name: "by_script", value: "yes" });
  form.append(byScript);

  // As wide as there is room for, where the server could only know what fits a phone.
  if (form.elements.size.value === "fits") {
    const shape = picture.getAttribute("height") / picture.getAttribute("width");
    const wide = Math.min(figure.parentElement.clientWidth, Math.max(window.innerHeight * 0.75 / shape, 340));
    Object.assign(picture.style, { width: `${wide}px`, height: `${wide * shape}px` });
  }

  const draw = () => {
    drawing.replaceChildren(...marks.map(([across, down]) => {
      const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      for (const [name, value] of [["class", "photo-mark"], ["cx", `${across * 100}%`], ["cy", `${down * 100}%`], ["r", "7"]]) ring.setAttribute(name, value);
      return ring;
    }));
    field.value = marks.map(([across, down]) => `${across.toFixed(4)},${down.toFixed(4)}`).join(" ");
    document.querySelectorAll("[data-marks-number]").forEach((place) => { place.textContent = marks.length; });
  };
  picture.addEventListener("click", (event) => {
    event.preventDefault();
    const box = picture.getBoundingClientRect();
    const x = event.clientX - box.left, y = event.clientY - box.top;
    if (!event.clientX && !event.clientY) return; // a key, not a touch: it says no place
    const away = ([across, down]) => Math.hypot(across * box.width - x, down * box.height - y);
    const hit = marks.filter((mark) => away(mark) <= near).sort((a, b) => away(a) - away(b))[0];
    marks = hit ? marks.filter((mark) => mark !== hit) : [...marks, [x / box.width, y / box.height]];
    draw();
    field.dispatchEvent(new Event("input", { bubbles: true })); // leaving is asked about
  });
  form.querySelector('[name="undo"]').addEventListener("click", (event) => {
    event.preventDefault();
    marks = marks.slice(0, -1);
    draw();
  });
})();
