/*
 * Draws each <figure data-chart-url="..."> from the Vega-Lite description behind that address, once it is scrolled near.
 *
 * The drawing libraries are fetched only on pages with such a figure. Their addresses come from the data attributes of
 * <script type="module" data-chart-script data-vega="..." data-vega-lite="..." data-vega-embed="...">, or else lie in
 * vendor/ beside this file. Colours: --chart-ink, -quiet, -hairline, -earth, -earth-pale and -paper, where a page sets them.
 */

const UNDRAWN = "The chart could not be loaded. Its figures are in the table; reload the page to try again.";
const NAMES = ["vega", "vega-lite", "vega-embed"];
/* In the pages' own layer: what a page says of the room a chart takes goes before it. */
const STYLE = `@layer base {
  [data-chart-url]:not([data-chart-state]) { min-block-size: 20rem; }
  .chart-place { overflow-x: auto; }
  .chart-place canvas { display: block; block-size: auto !important; }
  #vg-tooltip-element { position: fixed; z-index: 1000; visibility: hidden; padding: 0.4rem 0.6rem; pointer-events: none;
    font: 0.8rem/1.4 "Inter Variable", sans-serif; font-variant-numeric: tabular-nums; color: CanvasText; background: Canvas;
    border: 1px solid GrayText; }
  #vg-tooltip-element.visible { visibility: visible; }
  #vg-tooltip-element td.key { padding-inline-end: 0.8em; opacity: 0.75; }
}`;

const drawn = new Map();
let libraries;

function libraryAddresses() {
  const given = document.querySelector("script[data-chart-script]")?.dataset ?? {};
  return NAMES.map((name) => {
    const key = name.replace(/-(\w)/g, (_, letter) => letter.toUpperCase());
    return given[key] ?? new URL(`./vendor/${name}.min.js`, import.meta.url).href;
  });
}

function loadScript(address) {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = resolve;
    script.onerror = () => reject(new Error(`${address} could not be loaded`));
    document.head.append(script);
  });
}

/* One after the other: each build expects the one before it. */
function loadLibraries() {
  libraries ??= libraryAddresses().reduce(
    (before, address) => before.then(() => loadScript(address)),
    Promise.resolve(),
  );
  return libraries;
}

async function fetchDescription(address) {
  const answer = await fetch(address, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(`${address} answered ${answer.status}`);
  return answer.json();
}

/* The browser resolves var() and light-dark() for us; a canvas cannot. */
function inPageColours(description, place) {
  let text = JSON.stringify(description);
  const probe = document.createElement("span");
  probe.hidden = true;
  place.append(probe);
  for (const [name, colour] of Object.entries(description.usermeta?.palette ?? {})) {
    probe.style.color = `var(--chart-${name}, ${colour})`;
    text = text.replaceAll(`"${colour}"`, JSON.stringify(getComputedStyle(probe).color));
  }
  probe.remove();
  return JSON.parse(text);
}

/* The page has the letters of its own; the description names those of the paper. */
function lettering(place) {
  return getComputedStyle(place).fontFamily;
}

function spokenText(description) {
  const title = description.title?.text ?? description.title;
  return [title, description.description].filter(Boolean).join(". ");
}

function placeIn(figure) {
  const place = figure.querySelector(".chart-place") ?? document.createElement("div");
  place.classList.add("chart-place");
  if (!place.isConnected) figure.prepend(place);
  return place;
}

async function draw(figure) {
  const place = placeIn(figure);
  try {
    const [description] = await Promise.all([fetchDescription(figure.dataset.chartUrl), loadLibraries()]);
    await document.fonts.load(`10px ${lettering(place)}`);
    await paint(place, description);
    drawn.set(place, description);
    figure.dataset.chartState = "drawn";
  } catch (error) {
    console.error(error);
    place.textContent = UNDRAWN;
    figure.dataset.chartState = "failed";
  }
}

/* ast: expressions are interpreted, since the content policy forbids building code from text. */
async function paint(place, description) {
  const drawing = inPageColours(description, place);
  drawing.config = { ...drawing.config, font: lettering(place) };
  await globalThis.vegaEmbed(place, drawing, {
    actions: false,
    ast: true,
    defaultStyle: false,
    mode: "vega-lite",
    renderer: "canvas",
    tooltip: { disableDefaultStyle: true },
  });
  place.setAttribute("role", "img");
  place.removeAttribute("aria-roledescription");
  place.setAttribute("aria-label", spokenText(description));
}

function start(figures) {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(STYLE);
  document.adoptedStyleSheets.push(sheet);
  const watcher = new IntersectionObserver(
    (entries) => {
      for (const { isIntersecting, target } of entries) {
        if (!isIntersecting) continue;
        watcher.unobserve(target);
        draw(target);
      }
    },
    { rootMargin: "200px" },
  );
  for (const figure of figures) watcher.observe(figure);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    for (const [place, description] of drawn) paint(place, description);
  });
}

const figures = document.querySelectorAll("[data-chart-url]");
if (figures.length) start(figures);
