/* Reads the code in a picture: by the browser where it can, else by the reader that lies on our own host. */

import { gettext } from "./say.js";

const PROGRAM = new URL("../../vendor/zxing-reader-3.1.4.js", import.meta.url).href;
const MACHINE = new URL("../../vendor/zxing-reader-3.1.4.wasm", import.meta.url).href;
const WIDEST = 1280;
const OPTIONS = { formats: ["QRCode"], tryHarder: true, tryInvert: false, maxNumberOfSymbols: 8 };

let loading = null;

/* A function from a video to the text of the code nearest its middle, or null: on a bench many labels lie side by side. */
export async function makeReader() {
  const found = await ownDetector();
  return found ?? vendoredReader();
}

async function ownDetector() {
  const formats = await globalThis.BarcodeDetector?.getSupportedFormats().catch(() => []);
  if (!formats?.includes("qr_code")) return null;
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  return async (video) => {
    const codes = await detector.detect(video);
    return nearest(codes.map((code) => [code.rawValue, code.cornerPoints]), video.videoWidth, video.videoHeight);
  };
}

async function vendoredReader() {
  const program = await (loading ??= load()).catch((error) => { loading = null; throw error; });
  const canvas = document.createElement("canvas");
  return async (video) => {
    const picture = draw(video, canvas);
    const codes = picture ? await program.readBarcodes(picture, OPTIONS) : [];
    return nearest(codes.map(({ text, position }) => [text, corners(position)]), canvas.width, canvas.height);
  };
}

/* The library would fetch its machine from elsewhere; here it is told where it lies. */
async function load() {
  try {
    await addScript();
    const overrides = { locateFile: () => MACHINE };
    await globalThis.ZXingWASM.prepareZXingModule({ overrides, fireImmediately: true });
    return globalThis.ZXingWASM;
  } catch {
    throw new Error(gettext("What reads codes could not be loaded. Try again where there is a network."));
  }
}

function addScript() {
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = PROGRAM;
    script.addEventListener("load", resolve);
    script.addEventListener("error", reject);
    document.head.append(script);
  });
}

function draw(video, canvas) {
  const scale = Math.min(1, WIDEST / video.videoWidth);
  if (!video.videoWidth) return null;
  canvas.width = Math.round(video.videoWidth * scale);
  canvas.height = Math.round(video.videoHeight * scale);
  const context = canvas.getContext("2d", { willReadFrequently: true });
  context.drawImage(video, 0, 0, canvas.width, canvas.height);
  return context.getImageData(0, 0, canvas.width, canvas.height);
}

function corners(position) {
  return [position.topLeft, position.topRight, position.bottomRight, position.bottomLeft];
}

function nearest(codes, width, height) {
  const away = (points) => Math.hypot(mean(points, "x") - width / 2, mean(points, "y") - height / 2);
  const [first] = codes.filter(([text]) => text).sort((one, other) => away(one[1]) - away(other[1]));
  return first ? first[0] : null;
}

function mean(points, axis) {
  return points.reduce((sum, point) => sum + point[axis], 0) / points.length;
}
