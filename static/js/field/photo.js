/* A photo is drawn anew before it is kept: smaller, and without what a camera writes beside the picture, such as
   the place. Nothing of the file but its picture leaves the tablet. */

import { gettext } from "./say.js";

export const CAUTION = gettext("No keys, no pins and no bitting in the picture: a key can be copied from a photo. No people either.");

const LONGEST_SIDE = 1600;
const MOST_BYTES = 1_500_000;
const QUALITIES = [0.85, 0.7, 0.55, 0.4];
const SMALLER = 0.75;

export async function takePhoto(file) {
  const picture = await open(file);
  try {
    const made = await fit(picture);
    return { ...made, sha256: await digest(made.blob) };
  } finally {
    picture.close();
  }
}

async function open(file) {
  try {
    return await createImageBitmap(file);
  } catch {
    throw new Error(gettext("This file is no picture that the browser can open. Take a photo, or choose a JPEG or PNG."));
  }
}

async function fit(picture) {
  let scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  for (;;) {
    const canvas = draw(picture, scale);
    for (const quality of QUALITIES) {
      const blob = await encode(canvas, quality);
      if (blob.size <= MOST_BYTES) return { blob, width: canvas.width, height: canvas.height };
    }
    scale *= SMALLER;
  }
}

function draw(picture, scale) {
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  const context = canvas.getContext("2d", { alpha: false });
  context.fillStyle = "white";
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.drawImage(picture, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function encode(canvas, quality) {
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", quality));
  if (blob?.type !== "image/jpeg") throw new Error(gettext("This browser makes no JPEG of a picture. The photo was not taken."));
  return new Blob(withoutRemarks(new Uint8Array(await blob.arrayBuffer())), { type: "image/jpeg" });
}

/* The parts of a JPEG that draw it: some browsers write a block of remarks of their own. */
export function withoutRemarks(bytes) {
  const kept = [bytes.subarray(0, 2)];
  let at = 2;
  while (at + 4 <= bytes.length && bytes[at] === 0xff && bytes[at + 1] !== 0xda) {
    const end = at + 2 + bytes[at + 2] * 256 + bytes[at + 3];
    if (!isRemark(bytes[at + 1])) kept.push(bytes.subarray(at, end));
    at = end;
  }
  kept.push(bytes.subarray(at));
  return kept;
}

/* Comments, and every block of an application but JFIF (APP0) and how the colours are kept (APP14). */
function isRemark(marker) {
  return marker === 0xfe || (marker >= 0xe1 && marker <= 0xef && marker !== 0xee);
}

async function digest(blob) {
  if (!crypto.subtle) throw new Error(gettext("Photos can be taken only where the address begins with https."));
  const bytes = new Uint8Array(await crypto.subtle.digest("SHA-256", await blob.arrayBuffer()));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
