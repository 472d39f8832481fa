// A link to a cause unfolds it. Without this the cause is shown as its line, and is unfolded by hand.

function unfold() {
  const place = document.getElementById(location.hash.slice(1));
  const folded = place?.querySelector(":scope > details");
  if (folded && !place.classList.contains("is-answered")) folded.open = true;
}

addEventListener("hashchange", unfold);
unfold();
