// A small helper inside the page, loaded by JupyterLab as an extension made by hand (no build step).
// It mends fields that a slow machine lost while a step was loading, marks the step on show in the bar, and leads from the
// head of a step to its sections.

const LOST = "Error displaying widget: model not found";
const LOADING = "Loading widget...";
const BEAT = 500; // milliseconds between two looks
const PATIENCE = 20; // beats a field may load before its session is asked again

function outputs(panel) {
  return (panel.content?.widgets ?? []).map((cell) => cell.outputArea).filter(Boolean);
}

function mend(panel, waited) {
  // The page gives up on a field after two seconds, even if Python's answer is only late: show it once more.
  let loading = false;
  for (const area of outputs(panel)) {
    const text = area.node.textContent;
    if (text.includes(LOST)) area.model.fromJSON(area.model.toJSON());
    else if (text.includes(LOADING)) loading = true;
  }
  const beats = loading ? (waited.get(panel) ?? 0) + 1 : 0;
  waited.set(panel, beats);
  if (beats && beats % PATIENCE === 0) panel.sessionContext?.session?.kernel?.reconnect();
}

function mark(panel) {
  const here = panel.context?.path?.replace(/\.ipynb$/, "");
  for (const item of panel.node.querySelectorAll("[data-jp-item-name^='step-']")) {
    const button = item.querySelector("jp-button") ?? item;
    if (item.dataset.jpItemName === `step-${here}`) button.setAttribute("aria-current", "step");
    else button.removeAttribute("aria-current");
  }
}

function leadOn(event) {
  // Sections of one name stand on several steps: a link leads to that of its own step.
  const link = event.target.closest?.(".jp-RenderedMarkdown a[href^='#']");
  const name = link && decodeURIComponent(link.getAttribute("href").slice(1));
  const panel = link?.closest(".jp-NotebookPanel");
  const heading = name && [...panel.querySelectorAll("[data-jupyter-id]")].find((one) => one.dataset.jupyterId === name);
  if (!heading) return;
  event.preventDefault();
  event.stopPropagation();
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true }); // the next Tab goes on from there
  heading.scrollIntoView();
}

// The list of sections is one stop of the Tab key; arrow keys go along it.
const SECTIONS = ".jp-RenderedMarkdown p > a[href^='#']";

function oneStop(panel) {
  const links = panel.node.querySelectorAll(SECTIONS);
  if ([...links].filter((link) => link.tabIndex === 0).length > 1) links.forEach((link, n) => (link.tabIndex = n ? -1 : 0));
}

function along(event) {
  const link = event.target.closest?.(SECTIONS);
  const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (!link || !step) return;
  const links = [...link.closest("p").querySelectorAll("a")];
  const next = links[links.indexOf(link) + step];
  event.preventDefault();
  event.stopPropagation();
  if (!next) return;
  link.tabIndex = -1;
  next.tabIndex = 0;
  next.focus();
}

const plugin = {
  id: "stagefloor:page",
  autoStart: true,
  activate(app) {
    const waited = new WeakMap();
    document.addEventListener("click", leadOn, { capture: true });
    document.addEventListener("keydown", along, { capture: true });
    setInterval(() => {
      const panel = app.shell.currentWidget;
      if (!panel?.content?.model || !panel.sessionContext) return;
      mend(panel, waited);
      mark(panel);
      oneStop(panel);
    }, BEAT);
  },
};

(window._JUPYTERLAB ??= {}).stagefloor = {
  init: () => undefined,
  get: async () => () => ({ __esModule: true, default: plugin }),
};
