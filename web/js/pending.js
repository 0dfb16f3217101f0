// Photos that are not yet safe at the server, kept in the browser so that a closed page loses none.

const STORE = "photos";

function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open("carbpair", 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "key" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

async function act(mode, work) {
  const database = await open();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(STORE, mode);
      const request = work(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = () => reject(transaction.error);
      transaction.onabort = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

// A private window may have no such store: then a closed page must choose its photos again.
const quiet = (promise, otherwise) => promise.catch(() => otherwise);

export const keep = (entry) => quiet(act("readwrite", (store) => store.put(entry)));
export const forget = (key) => quiet(act("readwrite", (store) => store.delete(key)));
export const all = async (base) => {
  const entries = await quiet(act("readonly", (store) => store.getAll()), []);
  return entries.filter((entry) => entry.base === base);
};
