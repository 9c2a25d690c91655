/* The outbox: acts are added, never edited. An act counts as done once it lies here; until the server has
   answered, it is sent again and again under the same id. */

import { gettext } from "./say.js";
import { all, promised, transact } from "./store.js";
import { zoned } from "./words.js";

const KEEP_ANSWERED_MS = 30 * 24 * 3600 * 1000;

/* A sentence for the person: what was not kept, and what to do. */
export class NotKept extends Error {}

/* Writes acts ([{kind, body, photo?}]) in one transaction: all of them or none. */
export async function append(acts) {
  try {
    return await transact(["events", "photos", "kept"], "readwrite", (store) => write(store, acts));
  } catch (fault) {
    if (fault instanceof NotKept) throw fault;
    throw new NotKept(why(fault));
  }
}

async function write(store, acts) {
  const [session, device] = await Promise.all(["session", "device"].map((name) => promised(store("kept").get(name))));
  if (!session) throw new NotKept(gettext("This was not kept: nobody is signed in on this tablet. Sign in, then do it again."));
  if (!device) throw new NotKept(gettext("This was not kept: the tablet has no name yet. Name it in the settings, then do it again."));
  const counter = `sequence:${device.id}`;
  let sequence = (await promised(store("kept").get(counter))) ?? 0;
  const written = [];
  for (const { kind, body, photo } of acts) {
    sequence += 1;
    const event = {
      event_id: crypto.randomUUID(), sequence, kind, claimed_at: zoned(new Date()), person: session.id, body,
    };
    await promised(store("events").add({ device: device.id, event, answer: null, settled: false }));
    if (photo) await promised(store("photos").put({ ...photo, person: session.id, refused: null }));
    written.push(event);
  }
  await promised(store("kept").put(sequence, counter));
  return written;
}

function why(fault) {
  if (fault?.name === "QuotaExceededError") {
    return gettext("This was not kept: the tablet has no room left. Note it on paper, free some space (photos, other apps), then do it again.");
  }
  return gettext("This was not kept: the tablet’s storage does not work. Note it on paper, then close the app and open it again.");
}

export function records() {
  return all("events");
}

export function isUnsent(record) {
  return record.answer === null;
}

export function toSettle(record) {
  return ["accepted_with_conflict", "rejected"].includes(record.answer?.outcome);
}

/* Keeps the answers with their acts. What the server did not answer stays unsent. */
export function keepAnswers(batch, answers, at) {
  const byId = new Map(answers.map((answer) => [answer.event_id, answer]));
  return transact(["events"], "readwrite", async (store) => {
    for (const record of batch) {
      const answer = byId.get(record.event.event_id);
      if (answer) await promised(store("events").put({ ...record, answer: { ...answer, at } }));
    }
  });
}

/* An envelope per device, for a stick or a mail: the hand-in page takes it as it is. */
export function envelopes(unsent, now) {
  const devices = [...new Set(unsent.map((record) => record.device))];
  return devices.map((device) => ({
    device,
    sent_at: zoned(now),
    exported_at: zoned(now),
    events: unsent.filter((record) => record.device === device).map((record) => record.event),
  }));
}

export async function forgetOldAnswers(now) {
  const old = (record) => record.answer && record.settled && now - Date.parse(record.answer.at) > KEEP_ANSWERED_MS;
  await transact(["events"], "readwrite", async (store) => {
    for (const record of await promised(store("events").getAll())) {
      if (old(record)) await promised(store("events").delete(record.order));
    }
  });
}
