// Photos of visits: shrunk on the phone, kept in a base of their own, and sent when their entries have gone.
//
// Their own base, because a page of an older version that is still open could no longer open one with a new store.

const NAME = `sugarbush-photos${new URL(import.meta.url).pathname.split("/static/")[0]}`;
export const LONGEST_PX = 1280;
export const MOST_BYTES = 1_900_000;

/** How wide and high a picture is drawn: its longest edge at most `longest`, never larger than it is. */
export function fit(wide, high, longest = LONGEST_PX) {
  const scale = Math.min(1, longest / Math.max(wide, high));
  return [Math.max(1, Math.round(wide * scale)), Math.max(1, Math.round(high * scale))];
}

/** The photos of this person that may go now: their entry waits no longer, and was not refused. Oldest first. */
export function ready(photos, entries, person) {
  const held = new Set(entries.filter((one) => ["waiting", "refused"].includes(one.state)).map((one) => one.id));
  return photos
    .filter((photo) => photo.state === "waiting" && photo.person === person && !held.has(photo.entry))
    .sort((one, other) => one.taken_ms - other.taken_ms);
}

let opened = null;

function open() {
  opened ??= new Promise((done, failed) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("photos", { keyPath: "id" });
    asked.onsuccess = () => {
      asked.result.onversionchange = asked.result.onclose = () => {
        asked.result.close();
        opened = null;
      };
      done(asked.result);
    };
    asked.onerror = () => failed(asked.error);
  }).catch((why) => {
    opened = null;
    throw why;
  });
  return opened;
}

async function within(mode, act) {
  const base = await open();
  return new Promise((done, failed) => {
    const change = base.transaction(["photos"], mode, mode === "readwrite" ? { durability: "strict" } : undefined);
    let asked;
    change.oncomplete = () => done(asked?.result);
    change.onabort = () => failed(change.error ?? new DOMException("not kept", "AbortError"));
    try {
      asked = act(change.objectStore("photos"));
    } catch (why) {
      change.abort();
      failed(why);
    }
  });
}

export const all = () => within("readonly", (photos) => photos.getAll());
const put = (photo) => within("readwrite", (photos) => photos.put(photo));
export const remove = (id) => within("readwrite", (photos) => photos.delete(id));

/** The photos of an entry that has gone from the phone for good. */
export async function removeOf(entry) {
  for (const photo of await all()) if (photo.entry === entry) await remove(photo.id);
}

/** Keep a picture for an entry. Drawing it anew leaves out where it was taken and by what. Throws where it cannot. */
export async function keep(file, entry, person) {
  const drawn = await createImageBitmap(file, { imageOrientation: "from-image" });
  const [wide, high] = fit(drawn.width, drawn.height);
  const paper = Object.assign(document.createElement("canvas"), { width: wide, height: high });
  paper.getContext("2d").drawImage(drawn, 0, 0, wide, high);
  drawn.close();
  let picture = null;
  for (const quality of [0.8, 0.6, 0.4]) {
    picture = await new Promise((done) => paper.toBlob(done, "image/jpeg", quality));
    if (picture && picture.size <= MOST_BYTES) break;
  }
  if (!picture) throw new DOMException("no picture", "EncodingError");
  // As bytes: some browsers lose what a blob stands for when the base is opened again.
  const bytes = await picture.arrayBuffer();
  const photo = { id: crypto.randomUUID(), entry, person, state: "waiting", reasons: [], taken_ms: Date.now(), bytes };
  await put(photo);
  return photo;
}

/** Send what may go, one after the other. io.post(photo): the server's word, throws where the line broke. How many went. */
export async function sendAll(io) {
  let went = 0;
  for (const photo of ready(await io.all(), await io.entries(), io.person)) {
    const word = await io.post(photo);
    if (["saved", "before"].includes(word.state)) {
      await io.remove(photo.id);
      went += 1;
    } else if (word.state === "refused") await io.put({ ...photo, state: "refused", reasons: word.reasons ?? [] });
    else break; // later, or signed out: it goes again by itself
  }
  return went;
}

export const store = { all, put, remove };
