// A first look at a photo in the browser, so that a bad one is taken again at once.
// The server measures more exactly and has the last word.

const SIDE = 480;
const DARK_BELOW = 70; // as the server's limit: the level that a tenth of the pixels exceed
const BRIGHT_ABOVE = 130; // the level that a tenth of the pixels fall below
const SMALL_BELOW = 1000;
const FLAT_BELOW = 25; // variance of the Laplacian below which hardly an edge is left

export async function look(file) {
  let bitmap;
  try {
    bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return { kinds: [], width: 0, height: 0 }; // HEIC in most browsers: the server looks at it
  }
  const { width, height } = bitmap;
  const kinds = faults(bitmap, width, height);
  bitmap.close();
  return { kinds, width, height };
}

// What is wrong with a picture, or with a camera's present frame, of that many pixels.
export function faults(source, width, height) {
  const scale = Math.min(1, SIDE / Math.max(width, height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(3, Math.round(width * scale));
  canvas.height = Math.max(3, Math.round(height * scale));
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(source, 0, 0, canvas.width, canvas.height);
  const grey = greyOf(context.getImageData(0, 0, canvas.width, canvas.height).data);
  const sorted = Uint8Array.from(grey).sort();
  const kinds = [];
  if (Math.max(width, height) < SMALL_BELOW) kinds.push("too_small");
  if (sorted[Math.floor(0.9 * sorted.length)] < DARK_BELOW) kinds.push("too_dark");
  if (sorted[Math.floor(0.1 * sorted.length)] > BRIGHT_ABOVE) kinds.push("too_bright");
  if (laplacianVariance(grey, canvas.width, canvas.height) < FLAT_BELOW) kinds.push("blur");
  return kinds;
}

function greyOf(rgba) {
  const grey = new Uint8Array(rgba.length / 4);
  for (let i = 0; i < grey.length; i += 1) {
    grey[i] = (rgba[4 * i] * 299 + rgba[4 * i + 1] * 587 + rgba[4 * i + 2] * 114) / 1000;
  }
  return grey;
}

function laplacianVariance(grey, width, height) {
  let sum = 0, squares = 0, count = 0;
  for (let y = 1; y < height - 1; y += 1) {
    for (let x = 1; x < width - 1; x += 1) {
      const i = y * width + x;
      const value = 4 * grey[i] - grey[i - 1] - grey[i + 1] - grey[i - width] - grey[i + width];
      sum += value; squares += value * value; count += 1;
    }
  }
  return count ? squares / count - (sum / count) ** 2 : Infinity;
}

// A photo with more pixels than are taken, made smaller; the file itself if it fits.
export async function fitted(file, maxPixels, width, height) {
  if (!width || width * height <= maxPixels) return file;
  const scale = Math.sqrt(0.95 * maxPixels / (width * height));
  const bitmap = await createImageBitmap(file, {
    imageOrientation: "from-image", resizeWidth: Math.floor(width * scale),
    resizeHeight: Math.floor(height * scale), resizeQuality: "high",
  });
  const canvas = document.createElement("canvas");
  canvas.width = bitmap.width;
  canvas.height = bitmap.height;
  canvas.getContext("2d").drawImage(bitmap, 0, 0);
  bitmap.close();
  return new Promise((resolve) => canvas.toBlob((blob) => resolve(blob || file), "image/jpeg", 0.92));
}
