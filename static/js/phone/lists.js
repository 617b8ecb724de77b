// The whole round, what is new since the phone last looked, and what to say when there is no round here.
import * as disk from "./disk.js";
import * as round from "./round.js";

// The page hands its tools over: two modules that import each other could have no hashed names.
let page, put, row, say, screen, show, state;
export const meet = (given) => ({ put, row, say, screen, show, state } = page = given);

export function all({ quiet = false } = {}) {
  const { root, f } = screen("t-all");
  const { pack } = state;
  const stops = page.stops();
  const on = round.onRound(stops);
  const to_tap = stops.filter((stop) => stop.ready);
  const next = round.nextStop(on, "", state.later);
  f.title.textContent = pack.group?.name ?? say("title");
  f.about.textContent = on.length ? say("visited_of", { n: on.filter((stop) => stop.visited).length, all: on.length }) : noTrees();
  put(f.runs, round.runsToday(pack, Date.now()).map((run) => runWords(run, on)).join(" "));
  const carried_g = page.carried();
  put(f.carrying, carried_g ? say("carrying", { weight: page.weight(carried_g) }) : "");
  f.emptied.hidden = !carried_g;
  f.emptied.addEventListener("click", page.emptied);
  f.next.hidden = !next;
  if (next) {
    f.next.href = `#${next.code}`;
    f.next.textContent = say("next_is", { place: page.placeOf(next) });
  }
  f.done.hidden = Boolean(next) || on.length === 0;
  f.done_words.textContent = say("all_done");
  f.done_why.textContent = say("all_done_why");
  f.rows.append(
    ...on.map((stop) =>
      row(stop.code, {
        state: stop.visited ? `✓ ${say("visited")}` : say("to_visit"),
        text: page.placeOf(stop),
        small: stop.pull ? say("to_pull") : "",
        urgent: stop.pull,
        href: `#${stop.code}`,
      }),
    ),
  );
  f.tap_part.hidden = to_tap.length === 0;
  f.tap_rows.append(...to_tap.map((stop) => row(stop.code, { state: say("to_tap"), text: page.placeOf(stop), href: `#${stop.code}/tap` })));
  f.boil_part.hidden = pack.boil_days.length === 0;
  f.boil_rows.append(
    ...pack.boil_days.map((one) => {
      const name = one.off ? "news_boil_off" : "boil_day";
      return Object.assign(document.createElement("li"), { textContent: say(name, boilWords(one)) });
    }),
  );
  f.groups.hidden = pack.groups.length < 2;
  for (const group of pack.groups.filter((one) => one.id !== pack.group?.id)) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "act", textContent: group.name });
    button.addEventListener("click", () => page.changeGroup(group.id));
    f.groups.append(button);
  }
  show(root, f.title.textContent, { plain: true, quiet });
}

function runWords(run, on) {
  const mine = on.filter((stop) => run.codes.includes(stop.code));
  const n = mine.filter((stop) => stop.visited).length;
  return say("run_is", { run: run.name, n, all: mine.length, time: page.clockTime(run.latest_ms) });
}

function noTrees() {
  const { pack } = state;
  if (pack.ended) return say("ended");
  if (!pack.season) return say("no_season");
  return say(pack.group ? "no_trees" : "no_group");
}

const dayName = (iso) =>
  new Intl.DateTimeFormat(page.language, { timeZone: "UTC", weekday: "long", day: "numeric", month: "long" }).format(
    new Date(`${iso}T12:00:00Z`),
  );
const boilWords = (one) => ({ ...one, day: dayName(one.day), was: one.was ? dayName(one.was) : "" });

export function news() {
  const { root, f } = screen("t-news");
  for (const one of state.news) {
    const box = document.createElement("div");
    box.className = ["pull", "gone", "ended"].includes(one.what) ? "say stop" : "say";
    const text = document.createElement("div");
    const address = one.address || one.code;
    text.textContent = say(`news_${one.what}`, { ...boilWordsOf(one), address, why: (one.why ?? []).join(" "), hint: one.hint });
    box.append(text);
    f.rows.append(box);
  }
  const button = root.querySelector("button");
  // It may come up under a finger that meant another button.
  button.disabled = true;
  setTimeout(() => (button.disabled = false), 500);
  button.addEventListener("click", async () => {
    state.news = [];
    await disk.setNote("news", []);
    page.draw();
  });
  show(root, "");
}

const boilWordsOf = (one) => (one.what.startsWith("boil") ? boilWords(one) : {});

export function nothing() {
  const { root, f } = screen("t-nothing");
  f.head.textContent = state.old ? say("old_pack", { n: 7 }) : say("no_pack");
  f.why.textContent = say(state.old ? "old_pack_why" : "no_pack_why");
  const button = root.querySelector("[data-do=fetch]");
  button.addEventListener("click", async () => {
    button.disabled = true;
    const how = await page.fetchPack();
    button.disabled = false;
    if (["signed-out", "no-member"].includes(how)) {
      f.sign_in.href = page.urls.sign_in;
      f.sign_in.hidden = false;
    }
  });
  show(root, "");
}
