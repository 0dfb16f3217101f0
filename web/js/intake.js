// The customer's page: takes photos in, sends them come what may, shows the answer.
import { Camera, hasCamera } from "./camera.js";
import { all, forget, keep } from "./pending.js";
import { fitted, look } from "./quality.js";
import { problemOf, send } from "./upload.js";

const root = document.getElementById("intake");
const base = root.dataset.base;
const words = JSON.parse(document.getElementById("words").textContent);
const AGAIN_MS = 5000;
const running = new Map();

function card(entry) {
  const shot = document.getElementById("shot").content.firstElementChild.cloneNode(true);
  const image = shot.querySelector("img");
  image.alt = words.photo;
  const address = URL.createObjectURL(entry.blob);
  image.src = address;
  image.addEventListener("load", () => URL.revokeObjectURL(address), { once: true });
  image.addEventListener("error", () => image.removeAttribute("src"), { once: true });
  shot.querySelector(".remove").addEventListener("click", async () => {
    if (shot.dataset.photo) { await remove(shot); return; }
    running.get(entry.key)?.abort(true).catch(() => {});
    running.delete(entry.key);
    await forget(entry.key);
    shot.remove();
  });
  shot.querySelector(".again").addEventListener("click", () => start(entry, shot));
  root.querySelector(`[data-view="${entry.view}"] .shots`).append(shot);
  return shot;
}

const say = (shot, text) => { shot.querySelector(".said").textContent = text; };

function advise(shot, kinds) {
  shot.querySelector(".advice").replaceChildren(...kinds.map((kind) => {
    const line = document.createElement("p");
    line.className = "warn";
    line.textContent = words.quality[kind] || kind;
    return line;
  }));
}

function start(entry, shot) {
  const bar = shot.querySelector("progress");
  shot.classList.remove("rejected");
  shot.querySelector(".again").hidden = true;
  say(shot, words.sending);
  running.set(entry.key, send(entry, base, {
    url: (url) => { entry.url = url; keep(entry); },
    progress: (sent, total) => {
      bar.value = 100 * sent / total;
      say(shot, sent < total ? `${words.sending} ${Math.floor(100 * sent / total)} %` : words.checking);
    },
    waiting: (status) => say(shot, status === 503 || status === 429 ? words.busy : words.waiting),
    error: (error) => failed(entry, shot, problemOf(error)),
    success: (url) => received(entry, shot, url),
  }));
}

async function failed(entry, shot, problem) {
  running.delete(entry.key);
  if (problem.lost) {
    say(shot, words.waiting);
    setTimeout(() => { if (shot.isConnected && !running.has(entry.key)) start(entry, shot); }, AGAIN_MS);
    return;
  }
  await forget(entry.key);
  entry.url = null;
  shot.classList.add("rejected");
  shot.querySelector(".again").hidden = false;
  say(shot, `${words.stopped}: ${problem.text}`);
}

async function received(entry, shot, url) {
  let result;
  try {
    const answer = await fetch(`${url}/result`);
    if (!answer.ok) throw new Error(answer.statusText);
    result = await answer.json();
  } catch {
    setTimeout(() => received(entry, shot, url), AGAIN_MS);
    return;
  }
  running.delete(entry.key);
  await forget(entry.key);
  if (result.state !== "complete") {
    const problem = result.problem || {};
    await failed(entry, shot, { lost: false, text: [problem.message, problem.remedy].filter(Boolean).join(" ") });
    return;
  }
  for (const other of root.querySelectorAll(`[data-photo="${result.photo_id}"]`)) other.remove();
  shot.dataset.photo = result.photo_id;
  shot.classList.add("kept");
  const done = document.createElement("b");
  done.className = "ok";
  done.textContent = `✓ ${words.received}`;
  shot.querySelector(".said").replaceChildren(done);
  shot.querySelector("img").src = `${base}/photos/${result.photo_id}.jpg`;
  await refresh();
}

async function take(view, file) {
  const { kinds, width, height } = await look(file);
  const entry = { key: crypto.getRandomValues(new Uint32Array(4)).join("-"), base, view, blob: file, url: null };
  const shot = card(entry);
  advise(shot, kinds);
  if (width * height > words.limits.max_pixels) {
    say(shot, words.shrinking);
    entry.blob = await fitted(file, words.limits.max_pixels, width, height).catch(() => file);
  }
  if (entry.blob.size > words.limits.max_bytes) {
    await failed(entry, shot, { lost: false, text: words.too_large });
    return;
  }
  await keep(entry);
  start(entry, shot);
}

async function remove(shot) {
  if (!confirm(words.delete)) return;
  const answer = await fetch(`${base}/photos/${shot.dataset.photo}`, { method: "DELETE" });
  if (answer.ok || answer.status === 404) { shot.remove(); await refresh(); }
}

// What the server knows: its findings about each photo, and the result.
async function refresh() {
  const answer = await fetch(`${base}/state`).catch(() => null);
  if (!answer || !answer.ok) return;
  const now = await answer.json();
  for (const photo of now.list) {
    const shot = root.querySelector(`[data-photo="${photo.id}"]`);
    if (shot && shot.querySelector(".advice")) {
      advise(shot, (photo.quality.findings || []).map((finding) => finding.kind));
    }
  }
  await show(now);
}

async function show(now) {
  const line = document.getElementById("progress");
  if (now.analysis === "queued") line.textContent = words.queued;
  else if (now.analysis === "running") line.textContent = `${words.looking} ${now.done_photos} / ${now.photos}`;
  else if (now.analysis === "failed") line.textContent = words.failed;
  else line.textContent = "";
  if (now.analysis === "done" && shown !== now.revision) {
    const answer = await fetch(`${base}/result`).catch(() => null);
    if (!answer || !answer.ok) return;
    document.getElementById("result").innerHTML = await answer.text(); // our own escaped template
    shown = now.revision;
  }
}

let shown = -1;
let events;

function listen() {
  events?.close();
  events = new EventSource(`${base}/events`);
  events.addEventListener("progress", (event) => show(JSON.parse(event.data)));
  events.addEventListener("gone", () => events.close());
}

for (const input of root.querySelectorAll(".take-input")) {
  input.addEventListener("change", async () => {
    const view = input.closest("[data-view]").dataset.view;
    const files = [...input.files];
    input.value = "";
    for (const file of files) await take(view, file);
  });
}
const camera = new Camera(document.getElementById("camera"), words, take);
for (const button of root.querySelectorAll("[data-camera]")) {
  button.hidden = !hasCamera();
  button.addEventListener("click", () => camera.open(button.dataset.camera, button.dataset.title));
}
for (const button of root.querySelectorAll("[data-delete]")) {
  button.addEventListener("click", () => remove(button.closest(".shot")));
}

const about = document.getElementById("about");
let timer;
async function keepAbout() {
  const kept = document.getElementById("kept");
  const answer = await fetch(`${base}/about`, { method: "POST", body: new FormData(about) }).catch(() => null);
  if (answer?.ok) { kept.textContent = words.kept; shown = -1; await refresh(); return; }
  const problem = answer ? await answer.json().catch(() => ({})) : { detail: words.waiting };
  kept.textContent = `${words.not_kept} ${problem.detail || ""}`;
}
about.addEventListener("input", () => { clearTimeout(timer); timer = setTimeout(keepAbout, 800); });
about.addEventListener("submit", (event) => { event.preventDefault(); keepAbout(); });

const offline = document.getElementById("offline");
const online = () => { offline.hidden = navigator.onLine; if (navigator.onLine) { listen(); refresh(); } };
addEventListener("online", online);
addEventListener("offline", online);
addEventListener("pagehide", () => events?.close());
online();

for (const entry of await all(base)) start(entry, card(entry));
