// A form is sent once: its button says so until the answer comes.
// data-answers="file" on a form leaves it alone, because a download never shows a new page.

const SENDING = "Sending…";

function hold(button) {
  button.dataset.words = button.textContent;
  button.textContent = SENDING;
  button.disabled = true;
}

function release(button) {
  button.textContent = button.dataset.words;
  button.disabled = false;
  delete button.dataset.words;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  const button = event.submitter;
  if (event.defaultPrevented || form.method !== "post" || form.target) return;
  if (form.dataset.answers === "file" || !(button instanceof HTMLButtonElement)) return;
  if (form.dataset.sending) {
    event.preventDefault();
    return;
  }
  form.dataset.sending = "yes";
  // Later than this event, or the button's own name and value would not be sent.
  setTimeout(() => hold(button), 0);
});

window.addEventListener("pageshow", () => {
  document.querySelectorAll("button[data-words]").forEach(release);
  for (const form of document.querySelectorAll("form[data-sending]")) delete form.dataset.sending;
});
