// Live camera with the view's outline drawn over it; what is wrong is said while it can be mended.
import { faults } from "./quality.js";

const LOOK_MS = 600;
const PHOTO_MS = 4000; // some cameras never answer; then the picture on the screen is taken
// As much as the camera has: the flange must stay wide enough to be read.
const WANTED = { facingMode: { ideal: "environment" }, width: { ideal: 4096 }, height: { ideal: 3072 } };

export const hasCamera = () => Boolean(navigator.mediaDevices?.getUserMedia);

export class Camera {
  constructor(dialog, words, taken) {
    this.dialog = dialog;
    this.words = words;
    this.taken = taken;
    this.video = dialog.querySelector("video");
    this.outline = dialog.querySelector(".lines");
    this.said = dialog.querySelector(".live");
    this.button = dialog.querySelector(".shoot");
    this.button.addEventListener("click", () => this.shoot());
    dialog.querySelector(".close").addEventListener("click", () => dialog.close());
    dialog.querySelector(".choose").addEventListener("click", () => {
      dialog.close();
      document.getElementById(`take-${this.view}`).click();
    });
    dialog.addEventListener("close", () => this.stop());
    addEventListener("pagehide", () => this.stop());
  }

  async open(view, title) {
    this.view = view;
    this.dialog.querySelector("h2").textContent = title;
    this.outline.src = `/icons/view-${view}.svg`;
    this.say([]);
    this.button.disabled = true;
    this.dialog.showModal();
    try {
      const stream = await navigator.mediaDevices.getUserMedia({ video: WANTED, audio: false });
      if (!this.dialog.open) { end(stream); return; }
      this.stream = stream;
      this.video.srcObject = stream;
      await this.video.play();
    } catch {
      this.stop();
      this.said.textContent = this.words.no_camera;
      return;
    }
    this.button.disabled = false;
    this.button.focus();
    this.timer = setInterval(() => this.look(), LOOK_MS);
  }

  // A frame's size is not the photo's, so that it is small is not said here.
  look() {
    const { videoWidth: width, videoHeight: height } = this.video;
    if (width) this.say(faults(this.video, width, height).filter((kind) => kind !== "too_small"));
  }

  say(kinds) {
    const text = kinds.map((kind) => this.words.quality[kind] || kind).join(" ");
    if (this.said.textContent !== text) this.said.textContent = text;
  }

  async shoot() {
    if (!this.stream) return;
    this.button.disabled = true;
    const view = this.view;
    const photo = await this.still().catch(() => null) || await this.frame();
    this.dialog.close();
    if (photo) await this.taken(view, photo);
  }

  // The camera's own photo has more pixels than its film, where the browser can ask for one.
  async still() {
    if (!globalThis.ImageCapture) return null;
    const capture = new ImageCapture(this.stream.getVideoTracks()[0]);
    const late = new Promise((_, reject) => { setTimeout(() => reject(new Error("late")), PHOTO_MS); });
    const blob = await Promise.race([capture.takePhoto(), late]);
    const picture = await createImageBitmap(blob);
    const larger = picture.width * picture.height >= this.video.videoWidth * this.video.videoHeight;
    picture.close();
    return larger ? blob : null;
  }

  frame() {
    const canvas = document.createElement("canvas");
    canvas.width = this.video.videoWidth;
    canvas.height = this.video.videoHeight;
    canvas.getContext("2d").drawImage(this.video, 0, 0);
    return new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.95));
  }

  stop() {
    clearInterval(this.timer);
    if (this.stream) end(this.stream);
    this.stream = null;
    this.video.srcObject = null;
  }
}

function end(stream) {
  for (const track of stream.getTracks()) track.stop();
}
