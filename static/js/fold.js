// Parts that a phone folds stand open wherever there is room. Styles do so by themselves in newer
// browsers; this opens them in older ones too, and tells those who listen to the page.
(() => {
  const roomy = matchMedia("(min-width: 40.01rem)");
  const folds = [...document.querySelectorAll("details.fold")];
  const asSent = folds.map((fold) => fold.open);
  const set = () => folds.forEach((fold, n) => {
    fold.open = roomy.matches || asSent[n];
    fold.querySelector("summary").tabIndex = roomy.matches ? -1 : 0;
  });
  if (roomy.matches) set();
  roomy.addEventListener("change", set);
})();
