// A link to a cause unfolds it, and nothing else: what lies below another place stays where it is. Without this the
// cause is shown as its line, and is unfolded by hand.

function unfold() {
  const place = document.getElementById(location.hash.slice(1));
  const folded = place?.querySelector(":scope > .cause-fold");
  if (folded && !place.classList.contains("is-answered")) folded.open = true;
}

addEventListener("hashchange", unfold);
unfold();
