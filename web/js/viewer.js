// A photo that can be zoomed and panned, with its evidence: all in one SVG, by its viewBox.

const STEP = 1.4;
const MAX_ZOOM = 20;

export class Viewer {
  constructor(svg) {
    this.svg = svg;
    this.width = Number(svg.dataset.width);
    this.height = Number(svg.dataset.height);
    this.view = { x: 0, y: 0, w: this.width, h: this.height };
    svg.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !this.zoomed) return; // a plain wheel scrolls the page
      event.preventDefault();
      this.zoom(event.deltaY < 0 ? STEP : 1 / STEP, this.point(event));
    }, { passive: false });
    svg.addEventListener("keydown", (event) => this.onKey(event));
    svg.addEventListener("pointerdown", (event) => this.startPan(event));
  }

  get zoomed() { return this.view.w < this.width; }

  // The place of a pointer in the photo's own pixels.
  point(event) {
    const matrix = this.svg.getScreenCTM().inverse();
    const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
    return {
      x: Math.min(Math.max(place.x, 0), this.width),
      y: Math.min(Math.max(place.y, 0), this.height),
    };
  }

  zoom(factor, at = { x: this.view.x + this.view.w / 2, y: this.view.y + this.view.h / 2 }) {
    const w = Math.min(Math.max(this.view.w / factor, this.width / MAX_ZOOM), this.width);
    const scale = w / this.view.w;
    this.show(at.x - (at.x - this.view.x) * scale, at.y - (at.y - this.view.y) * scale, w);
  }

  fit() { this.show(0, 0, this.width); }

  show(x, y, w) {
    const h = w * this.height / this.width;
    this.view = {
      x: Math.min(Math.max(x, 0), this.width - w),
      y: Math.min(Math.max(y, 0), this.height - h), w, h,
    };
    this.svg.setAttribute("viewBox", `${this.view.x} ${this.view.y} ${w} ${h}`);
    this.svg.classList.toggle("zoomed", this.zoomed);
  }

  onKey(event) {
    const step = this.view.w / 8;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key === "+" || event.key === "=") this.zoom(STEP);
    else if (event.key === "-") this.zoom(1 / STEP);
    else if (event.key === "0") this.fit();
    else if (moves[event.key] && this.zoomed) {
      const [dx, dy] = moves[event.key];
      this.show(this.view.x + dx, this.view.y + dy, this.view.w);
    } else return;
    event.preventDefault();
  }

  startPan(event) {
    if (!this.zoomed || this.svg.classList.contains("drawing")) return;
    const from = { px: event.clientX, py: event.clientY, ...this.view };
    const scale = this.view.w / this.svg.clientWidth;
    this.svg.setPointerCapture(event.pointerId);
    const move = (next) => this.show(
      from.x - (next.clientX - from.px) * scale, from.y - (next.clientY - from.py) * scale, from.w);
    const end = () => {
      this.svg.removeEventListener("pointermove", move);
      this.svg.removeEventListener("pointerup", end);
      this.svg.removeEventListener("pointercancel", end);
    };
    this.svg.addEventListener("pointermove", move);
    this.svg.addEventListener("pointerup", end);
    this.svg.addEventListener("pointercancel", end);
  }
}
