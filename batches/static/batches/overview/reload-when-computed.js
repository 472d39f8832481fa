// Shows the figures of a batch once a worker has computed more of them.

const EVERY_MS = 3000;
const note = document.querySelector("[data-poll]");

async function look() {
  const answer = await fetch(note.dataset.poll, { headers: { Accept: "application/json" } });
  if (!answer.ok) return;
  const { waiting } = await answer.json();
  // Not under somebody's hands: what is half typed on this page stays.
  const typing = document.activeElement?.matches("input, textarea, select");
  if (String(waiting) !== note.dataset.waiting && !typing) location.reload();
}

if (note)
  setInterval(
    () => look().catch((error) => console.info("The laboratory cannot be asked:", error.message)),
    EVERY_MS,
  );
