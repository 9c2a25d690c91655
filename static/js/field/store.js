/* The tablet's own storage: one IndexedDB database with three stores. Nothing in it is a bitting.
   `events` are the acts as written, in order; `photos` wait for their upload; `kept` holds single things by
   name (pack, session, device, sequences). */

const NAME = "keyctl-field";
const VERSION = 1;

let opening = null;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => build(request.result);
    request.onsuccess = () => resolve(watched(request.result));
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("Another tab holds an older version of the app."));
  });
  opening.catch(() => { opening = null; });
  return opening;
}

function build(database) {
  const events = database.createObjectStore("events", { keyPath: "order", autoIncrement: true });
  events.createIndex("event_id", "event.event_id", { unique: true });
  database.createObjectStore("photos", { keyPath: "photo" });
  database.createObjectStore("kept");
}

function watched(database) {
  database.onversionchange = () => { database.close(); opening = null; };
  database.onclose = () => { opening = null; };
  return database;
}

export function promised(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/* `work` gets a function from a store's name to the store, and may await requests to them only. The promise
   is kept once all of it lies on the disk, or broken with nothing of it there. */
export async function transact(stores, mode, work) {
  const database = await open();
  const transaction = database.transaction(stores, mode, { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = resolve;
    transaction.onabort = () => reject(transaction.error ?? new Error("The storage gave up."));
  });
  let result;
  try {
    result = await work((name) => transaction.objectStore(name));
  } catch (fault) {
    done.catch(() => {});
    try { transaction.abort(); } catch { /* It had ended by itself. */ }
    throw fault;
  }
  await done;
  return result;
}

export function read(name) {
  return transact(["kept"], "readonly", (store) => promised(store("kept").get(name)));
}

export function keep(facts) {
  return transact(["kept"], "readwrite", async (store) => {
    for (const [name, value] of Object.entries(facts)) {
      await promised(value === null ? store("kept").delete(name) : store("kept").put(value, name));
    }
  });
}

export function all(name) {
  return transact([name], "readonly", (store) => promised(store(name).getAll()));
}
