// One photo on its way: tus-js-client does the resuming, this keeps it going for as long as it takes.
/* global tus */

const RETRIES = [0, 1000, 2000, 4000, 8000, 15000, 30000, 30000];
const CHUNK = 512 * 1024; // a lost connection costs at most this much to send again

export function send(entry, base, on) {
  const upload = new tus.Upload(entry.blob, {
    endpoint: `${base}/uploads`,
    uploadUrl: entry.url || null,
    chunkSize: CHUNK,
    retryDelays: RETRIES,
    storeFingerprintForResuming: false, // the address is kept beside the photo, in pending.js
    metadata: { view: entry.view, phase: "before" },
    onUploadUrlAvailable: () => on.url(upload.url),
    onProgress: (sent, total) => on.progress(sent, total),
    onShouldRetry: (error) => {
      const status = error.originalResponse ? error.originalResponse.getStatus() : 0;
      on.waiting(status);
      return status === 0 || status === 409 || status === 423 || status === 429 || status >= 500;
    },
    onError: (error) => on.error(error),
    onSuccess: () => on.success(upload.url),
  });
  upload.start();
  return upload;
}

export function problemOf(error) {
  const response = error.originalResponse;
  if (!response || !response.getStatus()) return { lost: true, text: "" };
  const status = response.getStatus();
  try {
    const problem = JSON.parse(response.getBody());
    return { lost: status >= 500 || status === 429, status, text: [problem.detail, problem.remedy].filter(Boolean).join(": ") };
  } catch {
    return { lost: status >= 500, status, text: `${status}` };
  }
}
