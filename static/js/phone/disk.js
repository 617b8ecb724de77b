// What the phone keeps: entries, packs, and a few notes. A promise here is kept only once the disk has it.

import { untried } from "./outbox.js";

// Another programme under another path of the same host keeps its own.
const HOME = new URL(import.meta.url).pathname.split("/static/")[0];
export const NAME = `sugarbush${HOME}`;
const VERSION = 1;
let opened = null;

function open() {
  opened ??= new Promise((done, failed) => {
    const asked = indexedDB.open(NAME, VERSION);
    asked.onupgradeneeded = () => {
      const base = asked.result;
      base.createObjectStore("entries", { keyPath: "id" });
      base.createObjectStore("packs", { keyPath: "key" });
      base.createObjectStore("notes");
    };
    asked.onsuccess = () => {
      // Another tab with a newer version may go ahead; this one opens again when it needs to.
      asked.result.onversionchange = () => {
        asked.result.close();
        opened = null;
      };
      asked.result.onclose = () => (opened = null);
      done(asked.result);
    };
    asked.onerror = () => failed(asked.error);
  }).catch((why) => {
    opened = null;
    throw why;
  });
  return opened;
}

/** One transaction over these stores. It is done when the disk has it (durability strict), or nothing of it is. */
async function within(stores, mode, act) {
  const base = await open();
  return new Promise((done, failed) => {
    const change = base.transaction(stores, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
    let result;
    change.oncomplete = () => done(result && "result" in result ? result.result : result);
    change.onabort = () => failed(change.error ?? new DOMException("not kept", "AbortError"));
    try {
      result = act(...stores.map((name) => change.objectStore(name)));
    } catch (why) {
      change.abort();
      failed(why);
    }
  });
}

export const all = () => within(["entries"], "readonly", (entries) => entries.getAll());

export const put = (list) =>
  list.length === 0
    ? Promise.resolve()
    : within(["entries"], "readwrite", (entries) => {
        for (const entry of list) entries.put(entry);
      });

/** New entries get their place in the order within the same transaction, whichever tab writes them. */
export const add = (list) =>
  within(["entries", "notes"], "readwrite", (entries, notes) => {
    const asked = notes.get("last");
    asked.onsuccess = () => {
      let n = asked.result ?? 0;
      for (const entry of list) entries.add({ ...entry, n: (n += 1) });
      notes.put(n, "last");
    };
  });

export const remove = (ids) =>
  within(["entries"], "readwrite", (entries) => {
    for (const id of ids) entries.delete(id);
  });

/** Remove one entry only if it was never tried, in one transaction with the look at it; says whether it went. */
export async function removeUntried(id) {
  let went = false;
  await within(["entries"], "readwrite", (entries) => {
    const asked = entries.get(id);
    asked.onsuccess = () => {
      if (asked.result && untried(asked.result)) {
        entries.delete(id);
        went = true;
      }
    };
  });
  return went;
}

export const note = (name) => within(["notes"], "readonly", (notes) => notes.get(name));
export const setNote = (name, value) => within(["notes"], "readwrite", (notes) => void notes.put(value, name));
export const pack = (key) => within(["packs"], "readonly", (packs) => packs.get(key));
export const packs = () => within(["packs"], "readonly", (packs) => packs.getAll());
export const putPack = (kept) => within(["packs"], "readwrite", (packs) => void packs.put(kept));

/** Put away the packs of everybody but this person (nobody: of all), and what only they had to know. Entries stay. */
export async function forget(person = "") {
  let all = person === "";
  await within(["packs", "notes"], "readwrite", (packs, notes) => {
    const asked = packs.getAll();
    asked.onsuccess = () => {
      const others = asked.result.filter((kept) => kept.pack.person.key !== person);
      all ||= others.length > 0;
      for (const kept of others) packs.delete(kept.key);
      if (all) for (const name of ["here", "news", "emptied", "later"]) notes.delete(name);
    };
  });
  if (all) await self.caches?.delete(TREE_PHOTOS);
}

// Photos of the trees, small, as the server sends them; the worker answers with them.
const TREE_PHOTOS = `tree-photos${HOME}`;

/** The addresses of the photos that are here. */
export async function treePhotos() {
  if (!(await self.caches?.has(TREE_PHOTOS))) return new Set();
  const keys = await caches.open(TREE_PHOTOS).then((cache) => cache.keys());
  return new Set(keys.map(({ url }) => new URL(url).pathname + new URL(url).search));
}

/** Have these photos here and no others; gives those that are. One that does not come now comes another time. */
export async function takeTreePhotos(wanted) {
  const here = await treePhotos();
  if (here.size === 0 && wanted.length === 0) return here;
  const cache = await caches.open(TREE_PHOTOS);
  for (const url of here) if (!wanted.includes(url)) await cache.delete(url);
  for (const url of wanted) if (!here.has(url)) await cache.add(url).catch(() => undefined);
  return treePhotos();
}
