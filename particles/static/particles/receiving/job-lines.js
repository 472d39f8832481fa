// The sample lines of a new job: further lines, moving by keys, and pasting a block.
// A pasted cell is written as it is; what does not fit is refused whole and said.

const form = document.querySelector("#job-form");
const body = form.querySelector(".line-table tbody");
const blank = document.querySelector("#blank-line");
const count = form.elements.line_count;
const said = form.querySelector(".paste-said");
const most = Number(body.dataset.most);
const MORE = 12;

const cellsOf = (row) => [...row.querySelectorAll("td input:not([type=checkbox])")];

function addLine() {
  const number = body.rows.length + 1;
  if (number > most) return null;
  const holder = document.createElement("template");
  holder.innerHTML = blank.innerHTML.replaceAll("__n__", number);
  const row = holder.content.querySelector("tr");
  body.append(row);
  count.value = number;
  return row;
}

function place(input) {
  const row = input.closest("tr");
  return { row: row.sectionRowIndex, column: [...row.querySelectorAll("td input")].indexOf(input) };
}

function goTo(row, column) {
  const target = body.rows[row]?.querySelectorAll("td input")[column];
  target?.focus();
  if (target?.type === "text") target.select();
}

// Tab-separated, one line per row; a quoted cell may hold tabs and line breaks.
function readBlock(text) {
  const rows = [[]];
  const cell = /("(?:[^"]|"")*"|[^\t\r\n]*)(\t|\r\n|\n|\r|$)/gy;
  for (let match = cell.exec(text); match; match = cell.exec(text)) {
    const [, raw, end] = match;
    const quoted = raw.length > 1 && raw.startsWith('"') && raw.endsWith('"');
    rows.at(-1).push(quoted ? raw.slice(1, -1).replaceAll('""', '"') : raw);
    if (cell.lastIndex >= text.length) break;
    if (end !== "\t") rows.push([]);
  }
  return rows;
}

function whyNot(block, from) {
  const columns = cellsOf(body.rows[0]).length - from.column;
  const widest = Math.max(...block.map((row) => row.length));
  if (widest > columns) return `The block has ${widest} columns and only ${columns} fit from this cell on.`;
  const lines = from.row + block.length;
  if (lines > most) return `The block would need line ${lines}; one job takes ${most}.`;
  if (block.flat().some((text) => /[\r\n]/.test(text))) return "A cell of the block has two lines of text.";
  let filled = 0;
  block.forEach((texts, down) => {
    const row = body.rows[from.row + down];
    if (row)
      texts.forEach((text, right) => {
        if (text && cellsOf(row)[from.column + right].value) filled += 1;
      });
  });
  return filled ? `The block would write over ${filled} cells that hold something. Empty them first.` : "";
}

body.addEventListener("paste", (event) => {
  const input = event.target.closest("td input:not([type=checkbox])");
  const text = event.clipboardData.getData("text/plain");
  if (!input || !/[\t\r\n]/.test(text.replace(/[\r\n]+$/, ""))) return;
  event.preventDefault();
  const block = readBlock(text.replace(/[\r\n]+$/, ""));
  const from = place(input);
  const refusal = whyNot(block, from);
  if (refusal) {
    said.textContent = `Nothing was pasted. ${refusal}`;
    return;
  }
  block.forEach((texts, down) => {
    const row = body.rows[from.row + down] ?? addLine();
    texts.forEach((cellText, right) => {
      if (cellText) cellsOf(row)[from.column + right].value = cellText;
    });
  });
  said.textContent = `${block.length} lines pasted, as they were copied. Read them against the bags.`;
  goTo(from.row, from.column);
});

body.addEventListener("keydown", (event) => {
  const input = event.target.closest("td input");
  if (!input || event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
  const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step) return;
  event.preventDefault();
  const { row, column } = place(input);
  if (row + step >= body.rows.length && event.key === "Enter") addLine();
  goTo(row + step, column);
});

form.elements.more_lines.addEventListener("click", (event) => {
  event.preventDefault();
  const first = body.rows.length;
  for (let n = 0; n < MORE && addLine(); n += 1);
  goTo(first, 0);
});
