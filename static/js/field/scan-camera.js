/* The camera on the back of the tablet, with its light where there is one. */

import { gettext } from "./say.js";

const WANTED = {
  audio: false,
  video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
};
const WHY_NOT = {
  NotAllowedError: gettext("The camera may not be used here. Allow it for this page in the browser's settings, then press again."),
  SecurityError: gettext("The camera may not be used here. Allow it for this page in the browser's settings, then press again."),
  NotFoundError: gettext("This device has no camera."),
  OverconstrainedError: gettext("This device has no camera that fits."),
  NotReadableError: gettext("The camera is in use elsewhere. Close the other app, then press again."),
  AbortError: gettext("The camera did not start. Press again."),
};

/* `isWanted` is asked again once the person has answered: who went back meanwhile wants no camera. */
export async function openCamera(video, isWanted) {
  if (!navigator.mediaDevices?.getUserMedia) {
    throw new Error(gettext("The camera works only where the address begins with https. Tell whoever runs this installation."));
  }
  const stream = await navigator.mediaDevices.getUserMedia(WANTED).catch((error) => {
    throw new Error(WHY_NOT[error.name] ?? gettext("The camera did not start."));
  });
  const camera = new Camera(video, stream);
  if (!isWanted()) return camera.closed();
  video.srcObject = stream;
  // Not waited for: a camera that gives no picture shall not hold up the button that stops it.
  video.play().catch(() => {});
  return camera;
}

class Camera {
  constructor(video, stream) {
    this.video = video;
    this.stream = stream;
    this.track = stream.getVideoTracks()[0];
    this.hasTorch = Boolean(this.track.getCapabilities?.().torch);
  }

  async setTorch(isOn) {
    try {
      await this.track.applyConstraints({ advanced: [{ torch: isOn }] });
      return true;
    } catch {
      return false;
    }
  }

  close() {
    for (const track of this.stream.getTracks()) track.stop();
    if (this.video.srcObject === this.stream) this.video.srcObject = null;
  }

  closed() {
    this.close();
    return this;
  }
}
