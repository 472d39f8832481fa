// What a tablet keeps of the bench belongs to whoever is logged in: at a log-out, or on a page that knows
// nobody, all of it goes; for another person, what is not theirs. Entries that wait are no part of it: they stay.

import { mayLeave, waitingEntries } from "./what-waits.js";

const KEPT = "siltbook-bench/";
const BENCH = /\/bench\/$/;

async function forgetPages(person) {
  if (!("caches" in window)) return;
  const names = (await caches.keys()).filter((name) => name.startsWith(KEPT));
  const others = person ? names.filter((name) => !name.startsWith(`${KEPT}${person}/`)) : names;
  await Promise.all(others.map((name) => caches.delete(name)));
}

async function forgetWorkers() {
  const registered = (await navigator.serviceWorker?.getRegistrations()) ?? [];
  const ours = registered.filter(({ scope }) => BENCH.test(new URL(scope).pathname));
  await Promise.all(ours.map((each) => each.unregister()));
}

async function forgetAll() {
  await Promise.allSettled([forgetPages(""), forgetWorkers()]);
}

const { person } = document.body.dataset;
if (person) forgetPages(person);
else if (person === "") forgetAll(); // an error page may not know whether somebody is logged in

const LOG_OUT = {
  title: "Something waits on this tablet",
  words:
    "It has not reached the laboratory. It stays here when you log out, and goes in when you log in again or when " +
    "the next person hands it in with their name as witness.",
  leave: "Log out all the same",
};

/* Before the button that sends is held: whoever stays can use it again. */
document.addEventListener(
  "submit",
  async (event) => {
    const form = event.target;
    if (!("leaves" in form.dataset)) return;
    event.preventDefault();
    const waiting = await waitingEntries();
    if (waiting.length && !(await mayLeave(waiting, LOG_OUT))) return;
    await forgetAll();
    form.submit();
  },
  { capture: true },
);
