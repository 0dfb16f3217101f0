// Marking what the readers missed: bolt holes by taps, a box by dragging. Keys: Enter marks the middle.

const SVG = "http://www.w3.org/2000/svg";

export class Drawing {
  constructor(figure, viewer) {
    this.figure = figure;
    this.viewer = viewer;
    this.svg = viewer.svg;
    this.form = figure.querySelector("form.drawing");
    this.layer = this.svg.querySelector(".pending");
    this.kind = null;
    for (const button of figure.querySelectorAll("[data-draw]")) {
      button.addEventListener("click", () => this.begin(button.dataset.draw));
    }
    this.form.querySelector("[data-cancel]").addEventListener("click", () => this.end());
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.send(); });
    this.form.addEventListener("change", () => this.tell());
    this.svg.addEventListener("pointerdown", (event) => this.onPointer(event));
    this.svg.addEventListener("keydown", (event) => this.onKey(event));
  }

  begin(kind) {
    this.end();
    this.kind = kind;
    this.svg.classList.add("drawing");
    this.form.hidden = false;
    const hint = this.form.querySelector(".hint");
    hint.textContent = hint.dataset[kind];
    this.form.querySelector(".boxwhat").hidden = kind !== "box";
    this.form.querySelector(".holecount").hidden = kind !== "hole";
    this.form.elements.with_found.checked = true;
    this.tell();
    this.pressed(kind);
    this.svg.focus();
  }

  end() {
    this.kind = null;
    this.points = [];
    this.box = null;
    this.layer.replaceChildren();
    this.svg.classList.remove("drawing");
    this.form.hidden = true;
    this.form.querySelector(".problem").textContent = "";
    this.pressed(null);
  }

  pressed(kind) {
    for (const button of this.figure.querySelectorAll("[data-draw]")) {
      button.setAttribute("aria-pressed", String(button.dataset.draw === kind));
    }
  }

  onPointer(event) {
    if (!this.kind) return;
    event.preventDefault();
    const start = this.viewer.point(event);
    if (this.kind === "hole") { this.addHole(start); return; }
    this.svg.setPointerCapture(event.pointerId);
    const move = (next) => this.setBox(start, this.viewer.point(next));
    const done = () => {
      this.svg.removeEventListener("pointermove", move);
      this.svg.removeEventListener("pointerup", done);
    };
    this.svg.addEventListener("pointermove", move);
    this.svg.addEventListener("pointerup", done);
  }

  onKey(event) {
    if (!this.kind) return;
    if (event.key === "Escape") { this.end(); return; }
    if (event.key !== "Enter") return;
    event.preventDefault();
    const { x, y, w, h } = this.viewer.view;
    if (this.kind === "hole") this.addHole({ x: x + w / 2, y: y + h / 2 });
    else this.setBox({ x: x + w / 8, y: y + h / 8 }, { x: x + 7 * w / 8, y: y + 7 * h / 8 });
  }

  addHole(place) {
    if (this.points.length >= 4) return;
    this.points.push([place.x, place.y]);
    this.layer.append(shape("circle", { cx: place.x, cy: place.y, r: this.viewer.width / 100 }));
    this.tell();
  }

  setBox(from, to) {
    this.box = [Math.min(from.x, to.x), Math.min(from.y, to.y), Math.max(from.x, to.x), Math.max(from.y, to.y)];
    const [x0, y0, x1, y1] = this.box;
    this.layer.replaceChildren(shape("rect", { x: x0, y: y0, width: x1 - x0, height: y1 - y0 }));
  }

  // Bolt holes that the reader saw on the chosen carburettor in this photo.
  get found() {
    const side = this.form.elements.position.value;
    return this.svg.querySelectorAll(`.carb.${side} circle.bolt:not(.hiddenhole)`).length;
  }

  get sum() { return this.points.length + (this.form.elements.with_found.checked ? this.found : 0); }

  tell() {
    if (this.kind !== "hole") return;
    const line = this.form.querySelector(".sum");
    line.textContent = line.dataset.text.replace("{found}", this.found)
      .replace("{marked}", this.points.length).replace("{sum}", this.sum);
  }

  async send() {
    const position = this.form.elements.position.value;
    let correction;
    if (this.kind === "hole") {
      correction = { feature: "flange_holes", value: this.sum, drawing: { kind: "hole", points: this.points } };
    } else {
      const [feature, text] = this.form.elements.what.value.split("=");
      const value = { True: true, False: false }[text] ?? text;
      correction = { feature, value, drawing: { kind: "box", box: this.box || [0, 0, 0, 0] } };
    }
    const answer = await fetch(this.form.dataset.api, {
      method: "POST",
      headers: { "content-type": "application/json", "x-csrf-token": this.form.dataset.csrf },
      body: JSON.stringify({ position, photo_id: this.svg.dataset.photo, ...correction }),
    });
    if (answer.ok) { location.hash = "features"; location.reload(); return; }
    const problem = await answer.json().catch(() => ({ detail: answer.statusText }));
    this.form.querySelector(".problem").textContent = [problem.detail, problem.remedy].filter(Boolean).join(": ");
  }
}

function shape(name, attributes) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}
