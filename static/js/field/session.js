/* Who works on this tablet. A sign-in needs the network, a sign-out does not: it holds on the tablet at once and
   is carried out on the server before anything else, as soon as that answers. */

import { post, readState } from "./server.js";
import { keep, promised, read, transact } from "./store.js";

const SIGN_IN = "/account/sign-in/?next=/field/";

/* What the server says of the sign-in. Another person gets a pack of their own; acts stay whose they are. */
export async function noteState(state) {
  if (!state.signed_in) return;
  const before = await read("session");
  const session = { id: state.person.id, name: state.person.name };
  const isOther = before && before.id !== session.id;
  await keep({ session, device: state.device, ...(isOther ? { pack: null } : {}) });
}

/* The pack and what was answered go; what is unsent stays. */
export async function signOutHere() {
  await transact(["kept", "events"], "readwrite", async (store) => {
    const session = await promised(store("kept").get("session"));
    for (const name of ["pack", "session"]) await promised(store("kept").delete(name));
    await promised(store("kept").put(session?.id ?? "", "sign-out"));
    for (const record of await promised(store("events").getAll())) {
      if (record.answer) await promised(store("events").delete(record.order));
    }
  });
}

export async function carryOutSignOut(state) {
  const who = await read("sign-out");
  if (who === undefined) return state;
  let now = state;
  if (state.signed_in && state.person.id === who) {
    await post("/account/sign-out/", {}, state.csrf);
    now = await readState();
  }
  await keep({ "sign-out": null });
  return now;
}

/* A sign-out that still waits comes first: the page of the sign-in would let the last person in again. */
export async function goToSignIn() {
  await carryOutSignOut(await readState());
  window.location.assign(SIGN_IN);
}

/* The proof of the tablet comes back in a cookie that no script reads. */
export function nameTablet(site, name, csrf) {
  return post("/field/devices/register/", { site, name }, csrf);
}
