/* The few addresses of the server, and what its answers mean to a tablet. */

import { gettext, interpolate } from "./say.js";

const WAIT_MS = 20_000;

/* No answer came: the network is away, whatever the browser says of it. */
export class Unreachable extends Error {}
/* The sign-in ended; what is in the outbox stays there. */
export class SignedOut extends Error {}
/* The server answered, and not with what was asked for. */
export class Odd extends Error {
  constructor(status, detail) {
    super(interpolate(gettext("The server answered with an error (%(status)s). %(detail)s What you did is kept on the tablet."), { status, detail }));
    this.status = status;
  }
}

async function ask(address, options = {}) {
  let answer;
  try {
    answer = await fetch(address, {
      cache: "no-store", credentials: "same-origin", redirect: "manual", signal: AbortSignal.timeout(WAIT_MS), ...options,
    });
  } catch {
    throw new Unreachable(gettext("No answer from the server."));
  }
  if (answer.status === 401) throw new SignedOut(gettext("Signed out."));
  // A proxy at its end answers in the server's place.
  if ([502, 503, 504].includes(answer.status)) throw new Unreachable(gettext("The server is away."));
  if (!answer.ok && answer.type !== "opaqueredirect") throw new Odd(answer.status, await detailOf(answer));
  return answer;
}

async function detailOf(answer) {
  try {
    const told = await answer.json();
    return told.detail ?? told.title ?? "";
  } catch {
    return "";
  }
}

async function read(answer) {
  try {
    return await answer.json();
  } catch {
    // Cut off on the way, or a sign-in page of the network itself: as good as no answer.
    throw new Unreachable(gettext("Half an answer."));
  }
}

export async function readState() {
  return read(await ask("/field/state/"));
}

export async function readPack() {
  return read(await ask("/field/pack/"));
}

export async function lookUp(code) {
  return read(await ask(`/field/lookup/?code=${encodeURIComponent(code)}`));
}

export async function sendEvents(envelope, csrf) {
  const answer = await ask("/field/events/", {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-CSRFToken": csrf },
    body: JSON.stringify(envelope),
  });
  return read(answer);
}

export function sendPhoto(photo, csrf) {
  return ask(`/field/photos/${photo.photo}/`, {
    method: "PUT", headers: { "Content-Type": "image/jpeg", "X-CSRFToken": csrf }, body: photo.blob,
  });
}

/* Forms of the ordinary pages; some answer with a redirect. */
export function post(address, facts, csrf) {
  return ask(address, {
    method: "POST", headers: { Accept: "application/json", "X-CSRFToken": csrf }, body: new URLSearchParams(facts),
  });
}
