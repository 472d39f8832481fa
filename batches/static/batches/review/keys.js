// Goes through the samples of a review by keys: j next, k before, a keep as it is, d decide. Everything is a button
// or a link on the page as well.

const samples = [...document.querySelectorAll("[data-sample]")];

function current() {
  return samples.findIndex((sample) => sample.contains(document.activeElement));
}

function goTo(place) {
  const sample = samples[Math.max(0, Math.min(place, samples.length - 1))];
  sample.focus({ preventScroll: true });
  sample.scrollIntoView({ block: "center" });
}

/* What stands against a signature, and what it asks for, follow each decision; what was typed there stays. */
function refresh(part, page) {
  const now = page.querySelector(`[data-as-it-stands="${part.dataset.asItStands}"]`);
  const typed = [...part.querySelectorAll("textarea")].some((box) => box.value);
  if (now && !(typed && now.querySelector("textarea"))) part.replaceWith(now);
}

/* The page that comes back says in the same row what stands now, or why it was not kept. */
async function keep(sample) {
  const form = sample.querySelector("[data-keep]");
  if (!form) return;
  const answer = await fetch(form.action, { method: "POST", body: new FormData(form) });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const decided = page.getElementById(sample.id)?.querySelector(".decided");
  if (!answer.ok || !decided) {
    location.reload();
    return;
  }
  sample.querySelector(".decided").replaceWith(decided);
  for (const part of document.querySelectorAll("[data-as-it-stands]")) refresh(part, page);
  const version = decided.querySelector("[name$='-seen']")?.value;
  for (const seen of document.querySelectorAll("[name$='-seen']")) seen.value = version ?? seen.value;
}

const DOES = {
  j: () => goTo(current() + 1),
  k: () => goTo(current() < 0 ? 0 : current() - 1),
  a: async () => {
    const place = current();
    if (place < 0) return;
    await keep(samples[place]);
    goTo(place + 1);
  },
  d: () => samples[current()]?.querySelector("[data-decide]")?.click(),
};

function isTyping(target) {
  return target.closest("input, textarea, select, [contenteditable]") !== null;
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || isTyping(event.target)) return;
  const act = DOES[event.key];
  if (!act || !samples.length) return;
  event.preventDefault();
  Promise.resolve(act()).catch((error) => {
    console.error(error);
    location.reload();
  });
});
