// What this person has written today and what became of it; one entry, and what may be done with it.
import * as disk from "./disk.js";
import * as outbox from "./outbox.js";
import * as photos from "./photos.js";
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, put, row, say, screen, show, state, volume;
export const meet = (given) => ({ put, row, say, screen, show, state, volume } = page = given);

function rowsOfEntries() {
  const now = Date.now();
  const rows = state.pack ? round.todays(state.pack, state.entries, now) : [];
  const listed = new Set(rows.map((one) => one.id));
  // Refused changes and undos are rows too, or nobody would learn why.
  const others = state.entries.filter((entry) => entry.person === state.who && !listed.has(entry.id));
  const loose = others.filter((entry) => entry.state === "refused" || (!state.pack && entry.state === "waiting"));
  return [
    ...rows,
    ...loose.map((entry) => ({
      id: entry.id,
      tree: entry.body.tree,
      address: "",
      outcome: entry.body.outcome ?? entry.kind,
      ml: entry.body.volume_ml ?? 0,
      at_ms: entry.happened_ms,
      state: entry.state,
      why: entry.reasons,
      box: entry,
    })),
  ];
}

function stateWords(one) {
  if (one.later === "waiting") return say("state_undo");
  if (one.state === "waiting" && one.box?.tries > 0) return say("state_tried");
  return say(`state_${one.state}`);
}

export function entries({ quiet = false }) {
  const { root, f } = screen("t-entries");
  const n = outbox.counts(state.entries, state.who);
  f.head.textContent = n.waiting ? say(n.waiting === 1 ? "one_waits" : "many_wait", { n: n.waiting }) : say("nothing_waits");
  put(f.others, n.others ? say(n.others === 1 ? "one_others_wait" : "many_others_wait", { n: n.others }) : "");
  const signIn = state.sending === "signed-out";
  f.sign_in.hidden = !signIn;
  f.send.hidden = signIn || (!n.waiting && !n.others);
  f.sign_in.href = page.urls.sign_in;
  f.send.addEventListener("click", () => page.send());
  const rows = rowsOfEntries();
  f.none.hidden = rows.length > 0;
  f.rows.append(
    ...rows.map((one) =>
      row(one.tree, {
        state: page.clockTime(one.at_ms),
        text: entryWords(one),
        small: stateWords(one),
        urgent: one.state === "refused",
        href: `#entry/${one.id}`,
      }),
    ),
  );
  show(root, "", { plain: true, quiet });
}

const entryWords = (one) => (one.outcome === "sap" && state.pack ? volume(one.ml) : say(`outcome_${one.outcome}`));

export function entry({ id, quiet = false }) {
  const one = rowsOfEntries().find((found) => found.id === id);
  if (!one) return page.go("entries");
  const { root, f } = screen("t-entry");
  f.address.textContent = one.address || one.tree;
  f.what.textContent = entryWords(one);
  f.code.textContent = one.tree;
  f.when.textContent = state.pack ? `${page.dayWords(one.at_ms)}, ${page.clockTime(one.at_ms)}` : "";
  f.state.textContent = stateWords(one);
  f.why.textContent = (one.why ?? []).join(" ");
  f.state_box.classList.toggle("stop", one.state === "refused");
  const isVisit = !["tap", "pull", "undo", "change", "removal"].includes(one.outcome);
  const open = one.state !== "void" && one.later === undefined;
  f.change.hidden = !(open && one.outcome === "sap" && state.pack);
  f.change.href = `#${one.tree}/sap/${one.id}`;
  const untried = one.box && one.state === "waiting" && one.box.tries === 0;
  f.take_back.hidden = !(open && one.state !== "refused" && (isVisit || untried));
  f.again.hidden = f.drop.hidden = one.state !== "refused";
  f.take_back.addEventListener("click", () => page.takeBack(id));
  f.again.addEventListener("click", async () => {
    await disk.put([{ ...one.box, state: "waiting", reasons: [] }]);
    await page.changed();
    await page.send();
    page.draw();
  });
  f.drop.addEventListener("click", async () => {
    await disk.remove([id]);
    await photos.removeOf(id);
    await page.changed();
    page.go("entries");
  });
  drawPhotos(f, one);
  show(root, f.address.textContent, { quiet });
}

// Photos

let shown = { key: "", kept: [], urls: [] };

/** The photos of the entry that are still on this phone, and the way to add one. */
function drawPhotos(f, one) {
  const visit = !["tap", "pull", "undo", "change", "removal"].includes(one.outcome);
  f.photo.hidden = !visit || one.state === "void" || one.state === "refused";
  f.photo.addEventListener("click", () => f.camera.click());
  f.camera.addEventListener("change", () => addPhoto(f, one.id));
  const mine = shown.kept.map((photo, n) => ({ photo, url: shown.urls[n] })).filter(({ photo }) => photo.entry === one.id);
  f.photos.hidden = mine.length === 0;
  f.photos.append(...mine.map(({ photo, url }) => drawPhoto(photo, url)));
  look(one.id);
}

/** Read them from the disk; where they are others than those that stand there, the screen is drawn again. */
async function look(id) {
  const kept = (await photos.all().catch(() => [])).filter((photo) => photo.entry === id);
  const key = [id, ...kept.map((photo) => photo.id + photo.state)].join();
  if (key === shown.key) return;
  const before = shown;
  const picture = ({ bytes }) => URL.createObjectURL(new Blob([bytes], { type: "image/jpeg" }));
  shown = { key, kept, urls: kept.map(picture) };
  for (const url of before.urls) URL.revokeObjectURL(url);
  if (kept.length || before.kept.length) page.draw({ quiet: true });
}

function drawPhoto(photo, url) {
  const { root, f } = screen("t-photo");
  f.picture.src = url;
  f.words.textContent = photo.state === "refused" ? [say("photo_refused"), ...photo.reasons].join(" ") : say("photo_waiting");
  f.off.addEventListener("click", async () => {
    await photos.remove(photo.id);
    await page.countPhotos();
    await look(photo.entry);
  });
  return root;
}

async function addPhoto(f, id) {
  const [file] = f.camera.files;
  if (!file) return;
  f.photo.disabled = true;
  try {
    await photos.keep(file, id, state.who);
  } catch (why) {
    return page.stop(say(why?.name === "QuotaExceededError" ? "photo_full" : "photo_unread"));
  } finally {
    f.photo.disabled = false;
  }
  navigator.vibrate?.(60);
  await page.countPhotos();
  await look(id);
  page.send();
}
