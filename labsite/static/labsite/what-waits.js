// Entries of the bench that lie on this tablet and have not reached the laboratory: found, saved as a file, and told
// to whoever leaves.

const STORE = "siltbook-bench";
const OFFERS = "leaving";

/* Everything that waits here, whoever took it; nothing is made where nothing was ever kept. */
export function waitingEntries() {
  return new Promise((resolve) => {
    const asked = indexedDB.open(STORE);
    asked.onupgradeneeded = () => asked.transaction.abort(); // no bench was ever opened in this browser
    asked.onerror = () => resolve([]);
    asked.onsuccess = () => {
      const database = asked.result;
      if (!database.objectStoreNames.contains("entries")) {
        database.close();
        resolve([]);
        return;
      }
      const all = database.transaction("entries").objectStore("entries").getAll();
      all.onsuccess = () => {
        database.close();
        resolve(all.result.filter(({ state }) => state === "waiting"));
      };
      all.onerror = () => {
        database.close();
        resolve([]);
      };
    };
  });
}

/* A line for each entry, to be read by a person and typed from paper where nothing else helps. */
export function asText(entries, takenDownAt) {
  const lines = entries.map(({ entry_id, kind, by_name, told, content }) =>
    [told, `taken by ${by_name}`, kind, JSON.stringify(content), `entry ${entry_id}`].join("\t"),
  );
  return [`Entries that had not reached the laboratory, saved ${takenDownAt}`, ...lines, ""].join("\n");
}

export function saveAsFile(entries) {
  const at = new Date().toISOString();
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([asText(entries, at)], { type: "text/plain" }));
  link.download = `entries-${at.slice(0, 19).replaceAll(":", "")}.txt`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/* Whether the person leaves all the same; `words` say what leaving does to what waits. */
export function mayLeave(entries, { title, words, leave }) {
  document.getElementById(OFFERS)?.remove();
  const dialog = document.createElement("dialog");
  dialog.id = OFFERS;
  dialog.className = "leaving";
  dialog.setAttribute("aria-labelledby", "leaving-title");
  const answers = [
    ["stay", "Stay", "button"],
    ["save", "Save them as a file", "button button-quiet"],
    ["leave", leave, "button button-grave"],
  ];
  dialog.append(
    named("h2", "leaving-title", title),
    named("p", "leaving-words", words),
    list(entries),
    ...answers.filter(([what]) => what !== "save" || entries.length).map(answer),
  );
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => resolve(false));
    dialog.addEventListener("click", ({ target }) => {
      const what = target.closest("button")?.dataset.answer;
      if (what === "save") saveAsFile(entries);
      if (what === "leave") resolve(true);
      if (what === "stay" || what === "leave") dialog.close();
    });
  });
}

function answer([what, words, look]) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = look;
  button.dataset.answer = what;
  button.textContent = words;
  return button;
}

function named(tag, id, words) {
  const node = document.createElement(tag);
  node.id = id;
  node.textContent = words;
  return node;
}

function line(words) {
  const item = document.createElement("li");
  item.textContent = words;
  return item;
}

function list(entries) {
  const shown = document.createElement("ul");
  shown.append(
    ...entries.slice(0, 6).map(({ told, by_name }) => line(`${told} (${by_name})`)),
    ...(entries.length > 6 ? [line(`and ${entries.length - 6} more`)] : []),
  );
  return shown;
}
