// The case page: viewers, layers, drawing, and renewing itself when an analysis ends.
import { Drawing } from "./drawing.js";
import { Viewer } from "./viewer.js";

for (const figure of document.querySelectorAll("[data-figure]")) {
  const viewer = new Viewer(figure.querySelector("svg.viewer"));
  new Drawing(figure, viewer);
  for (const button of figure.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => {
      if (button.dataset.zoom === "fit") viewer.fit();
      else viewer.zoom(button.dataset.zoom === "in" ? 1.4 : 1 / 1.4);
    });
  }
}

for (const box of document.querySelectorAll("[data-layer]")) {
  box.addEventListener("change", () => {
    document.getElementById("photos").classList.toggle(`no-${box.dataset.layer}`, !box.checked);
  });
}

const state = document.getElementById("state");
const progress = document.getElementById("progress");
const events = new EventSource(state.dataset.events);
events.addEventListener("progress", (event) => {
  const now = JSON.parse(event.data);
  progress.textContent = now.analysis === "running" ? `${progress.dataset.text} ${now.done_photos} / ${now.photos}` : "";
  const changed = now.state !== state.dataset.state || String(now.revision) !== state.dataset.revision;
  // Never throw away what someone is typing or drawing.
  const busy = document.querySelector("form.drawing:not([hidden]), details.fix[open]") ||
    ["INPUT", "TEXTAREA", "SELECT"].includes(document.activeElement?.tagName);
  if (changed && !busy) location.reload();
});
events.addEventListener("gone", () => { events.close(); location.href = "/desk"; });
addEventListener("pagehide", () => events.close());
