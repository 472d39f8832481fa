// On a phone what is not a figure is folded to a line that opens it; on a wider screen, and on paper, nothing is.
// Without this everything is open.

const phone = matchMedia("(width < 40rem)");
const folds = [...document.querySelectorAll(".phone-fold")];

function fold() {
  for (const each of folds) each.open = !phone.matches;
}

function unfold() {
  for (const each of folds) each.open = true;
}

phone.addEventListener("change", fold);
addEventListener("beforeprint", unfold);
addEventListener("afterprint", fold);
fold();
