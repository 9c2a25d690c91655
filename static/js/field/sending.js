/* One round with the server: who is signed in, what is unsent, then a fresh pack. Only one tab at a time goes on
   a round, and packs are fetched in no other place: so a pack never holds an act that still waits in the outbox. */

import { isUnsent, keepAnswers, records } from "./outbox.js";
import { gettext, LANGUAGE } from "./say.js";
import { Odd, readPack, readState, sendEvents, sendPhoto, SignedOut } from "./server.js";
import { carryOutSignOut, noteState } from "./session.js";
import { all, keep, promised, read, transact } from "./store.js";
import { zoned } from "./words.js";

const MOST_IN_ONE = 200;
// Half of what the server reads: a sign may be two bytes.
const MOST_SIGNS = 500_000;
const PACK_LASTS_MS = 5 * 60_000;
const LEASE_MS = 60_000;
const LOCK = "keyctl-field-round";

/* What the round came to: {state, sent, busy}. Throws Unreachable, SignedOut or Odd. */
export function goOnARound({ wantsPack = false } = {}) {
  return alone(() => round(wantsPack));
}

async function round(wantsPack) {
  const state = await carryOutSignOut(await readState());
  await noteState(state);
  if (!state.signed_in) throw new SignedOut(gettext("Signed out."));
  const sent = await sendAll(state.csrf);
  await sendPhotos(state.csrf);
  if (await isPackDue(wantsPack || sent > 0)) await fetchPack();
  return { state, sent };
}

async function sendAll(csrf) {
  let sent = 0;
  for (;;) {
    const unsent = (await records()).filter(isUnsent);
    if (!unsent.length) return sent;
    const batch = nextBatch(unsent);
    const told = await sendEvents({
      device: batch[0].device, sent_at: zoned(new Date()), unsent: unsent.length - batch.length,
      events: batch.map((record) => record.event),
    }, csrf);
    await keepAnswers(batch, told.answers, told.server_time);
    if (!told.answers.length) throw new Odd(200, gettext("It left acts without an answer."));
    sent += told.answers.length;
  }
}

/* In the order of writing, as many as the server takes at a time; acts of a device that was named anew go in an
   envelope of their own. */
function nextBatch(unsent) {
  let size = 0;
  const end = unsent.findIndex((record, index) => {
    size += JSON.stringify(record.event).length;
    return record.device !== unsent[0].device || (index > 0 && size > MOST_SIGNS);
  });
  return unsent.slice(0, Math.min(MOST_IN_ONE, end < 0 ? unsent.length : end));
}

/* A photo that the server will not have is marked so and left out; the others go on. */
async function sendPhotos(csrf) {
  for (const photo of await all("photos")) {
    if (photo.refused) continue;
    try {
      await sendPhoto(photo, csrf);
      await onPhotos((photos) => photos.delete(photo.photo));
    } catch (fault) {
      if (!(fault instanceof Odd) || fault.status === 403 || fault.status >= 500) throw fault;
      await onPhotos((photos) => photos.put({ ...photo, refused: fault.message }));
    }
  }
}

function onPhotos(act) {
  return transact(["photos"], "readwrite", (store) => promised(act(store("photos"))));
}

async function isPackDue(isWanted) {
  const pack = await read("pack");
  if (!pack) return true;
  // An act whose answer was lost may be in a new pack already: first its answer, then the pack.
  if ((await records()).some(isUnsent)) return false;
  // Another language since: names of kinds and places come in words.
  if (pack.language !== LANGUAGE) return true;
  return isWanted || Date.now() - Date.parse(pack.fetched_at) > PACK_LASTS_MS;
}

async function fetchPack() {
  const before = (await records()).filter((record) => !isUnsent(record)).map((record) => record.order);
  const pack = { ...await readPack(), fetched_at: new Date().toISOString(), language: LANGUAGE };
  await transact(["events", "kept"], "readwrite", async (store) => {
    await promised(store("kept").put(pack, "pack"));
    await heal(store("kept"), pack.device);
    for (const order of before) {
      const record = await promised(store("events").get(order));
      if (record && !record.settled) await promised(store("events").put({ ...record, settled: true }));
    }
  });
}

/* A storage that was emptied counts on from where the server saw it last. */
async function heal(kept, device) {
  if (!device) return;
  const counter = `sequence:${device.id}`;
  const here = (await promised(kept.get(counter))) ?? 0;
  if (device.next_sequence - 1 > here) await promised(kept.put(device.next_sequence - 1, counter));
}

/* Never two at once: by the browser's locks, or by a lease in the storage where it has none. */
async function alone(work) {
  if (navigator.locks) {
    return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => (lock ? work() : { busy: true }));
  }
  if (!(await takeLease())) return { busy: true };
  try {
    return await work();
  } finally {
    await keep({ lease: null });
  }
}

function takeLease() {
  return transact(["kept"], "readwrite", async (store) => {
    const until = (await promised(store("kept").get("lease"))) ?? 0;
    if (until > Date.now()) return false;
    await promised(store("kept").put(Date.now() + LEASE_MS, "lease"));
    return true;
  });
}
