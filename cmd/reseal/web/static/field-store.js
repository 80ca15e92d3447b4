// What the field pages keep on the phone: drafts by joint, the queue of
// entries to send by uid, and notes such as the route taken along. Each change
// is flushed to the disk before it counts: the battery may die next.
const open = new Promise((done, fail) => {
  const r = indexedDB.open("reseal-field", 1);
  r.onupgradeneeded = () => ["drafts", "queue", "notes"].forEach(name => r.result.createObjectStore(name));
  r.onsuccess = () => done(r.result);
  r.onerror = () => fail(r.error);
});

async function run(name, mode, act) {
  const db = await open;
  return new Promise((done, fail) => {
    const t = db.transaction(name, mode, {durability: "strict"});
    const r = act(t.objectStore(name));
    t.oncomplete = () => done(r.result);
    t.onabort = () => fail(t.error);
  });
}

export const get = (name, key) => run(name, "readonly", s => s.get(key));
export const all = name => run(name, "readonly", s => s.getAll());
export const keys = name => run(name, "readonly", s => s.getAllKeys());
export const put = (name, key, value) => run(name, "readwrite", s => s.put(value, key));
export const drop = (name, key) => run(name, "readwrite", s => s.delete(key));
