// What all views share: words, elements, requests, the name of the person, undo, questions to her.

let token = "";
export let words = {};
export const state = {queue: [], at: 0, queueName: "", undo: [], confirmed: 0, last: null, terms: []};

// Elements are made of text alone: nothing that is written on an envelope is ever parsed as HTML.
export function h(tag, about = {}, ...inside) {
  const element = document.createElement(tag);
  put(element, about);
  element.append(...inside.flat(Infinity).filter((x) => x !== null && x !== undefined && x !== false));
  return element;
}

export function s(tag, about = {}, ...inside) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(about)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value !== null && value !== undefined && value !== false) element.setAttribute(name, value);
  }
  element.append(...inside.flat(Infinity).filter((x) => x !== null && x !== undefined && x !== false));
  return element;
}

function put(element, about) {
  for (const [name, value] of Object.entries(about)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
}

// Characters that turn or end the direction of what stands around them are spelt out, as on everything printed: an isolation that is
// opened within an element and not closed would reach beyond it (Unicode Standard Annex 9, BD9: the element's own end closes it).
export const visible = (text) => String(text).replace(/[\u0000-\u0008\u000b-\u001f\u007f\u202a-\u202e\u2066-\u2069]/g, (c) => `<U+${c.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0")}>`);
// Words of an envelope, or a person's: set apart, so that their direction turns nothing around them.
export const said = (text, about = {}) => h("bdi", {class: "said", ...about}, visible(text));

export const fill = (template, values = {}) => template.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
export const counted = (n) => n.toLocaleString("en");
export const findingName = (kind) => words.finding[kind] ?? kind.replaceAll("_", " ");
export const termName = (term) => (term.startsWith("finding:") ? findingName(term.slice(8)) : words.term[term] ?? term);
export const when = (instant) => instant.replace("T", " ").replace(/:\d\dZ$/, " UTC");
export const shelf = (one) => `${one.tin === "" ? words.find.no_tin : words.read.tin + " " + one.tin} · ${words.read.sheet} ${one.sheet || "–"}${one.side === "back" ? " " + words.read.back : ""} · ${words.read.position} ${one.position}`;

export async function loadWords() {
  words = await (await fetch("/page/words.en.json")).json();
}

export async function enter() {
  const given = location.hash.slice(1);
  if (/^[0-9a-f]{32}$/.test(given)) localStorage.setItem("papillote.token", given);
  token = localStorage.getItem("papillote.token") ?? "";
  history.replaceState(null, "", location.pathname);
  await ask("POST", "/api/enter", {});
}

export class Refusal extends Error {
  constructor(status, body) {
    super(body.error ?? String(status));
    this.status = status;
    this.body = body;
  }
}

async function ask(method, path, body, signal) {
  let answer;
  try {
    answer = await fetch(path, {
      method, signal, cache: "no-store",
      headers: {"X-Papillote-Token": token, ...(body ? {"Content-Type": "application/json"} : {})},
      body: body ? JSON.stringify(body) : undefined,
    });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refusal(0, {error: words.lost});
  }
  const value = await answer.json();
  if (!answer.ok) throw new Refusal(answer.status, answer.status === 401 ? {error: words.closed} : value);
  return value;
}

export function get(path, asked = {}, signal) {
  const list = new URLSearchParams();
  for (const [name, value] of Object.entries(asked)) if (value !== undefined && value !== null) list.set(name, value);
  const query = list.toString();
  return ask("GET", query ? `${path}?${query}` : path, null, signal);
}
export const picture = (kind, id, view, px) => `/picture/${kind}?${new URLSearchParams({id, view, px})}`;
export const pdf = (ids) => `/picture/pick-list.pdf?${new URLSearchParams({ids: ids.join("."), who: who()})}`;

let saying = 0;
export function say(text) {
  document.getElementById("say").textContent = visible(text);
  clearTimeout(saying);
  saying = setTimeout(() => { document.getElementById("say").textContent = ""; }, 4000);
}
export function alarm(text) {
  const place = document.getElementById("alarm");
  place.replaceChildren(text ? h("p", {}, text, h("button", {type: "button", onclick: () => alarm("")}, words.close)) : "");
}
export async function guarded(work) {
  try {
    return await work();
  } catch (error) {
    if (error.name === "AbortError") return undefined;
    alarm(error.message);
    return undefined;
  }
}

// --- the person ---

export const who = () => localStorage.getItem("papillote.who") ?? "";

export async function askWho() {
  const input = h("input", {type: "text", id: "who-name", maxlength: 80, autocomplete: "name", value: who()});
  const answer = await question({title: words.who.none, ok: words.ok}, h("label", {for: "who-name"}, words.who.ask), input);
  if (answer && input.value.trim()) localStorage.setItem("papillote.who", input.value.trim());
  showWho();
  return who();
}
export function showWho() {
  document.getElementById("who").replaceChildren(
    h("button", {type: "button", title: words.who.change, onclick: askWho}, who() ? said(who()) : words.who.none));
}

// --- the pick list of this browser ---

export const picked = {
  ids: () => JSON.parse(localStorage.getItem("papillote.picked") ?? "[]"),
  keep(ids) {
    localStorage.setItem("papillote.picked", JSON.stringify(ids));
    showPicked();
  },
  has: (id) => picked.ids().includes(id),
  toggle: (id) => (picked.has(id) ? picked.keep(picked.ids().filter((one) => one !== id)) : picked.add([id])),
  // Says so where they are too many for one list.
  add(more) {
    const ids = [...new Set([...picked.ids(), ...more])];
    if (ids.length > kMostPicked) return alarm(fill(words.pick.too_many, {n: kMostPicked}));
    picked.keep(ids);
    return say(fill(words.pick.on_it, {n: counted(ids.length)}));
  },
  clear: () => picked.keep([]),
};
const kMostPicked = 500;  // as the server has it
export function showPicked() {
  const n = picked.ids().length;
  document.getElementById("picked").textContent = n ? ` (${counted(n)})` : "";
}
// A button that puts an envelope on the list, or takes it off.
export function picker(id) {
  const button = h("button", {type: "button", class: "picker", onclick: () => { picked.toggle(id); button.setAttribute("aria-pressed", String(picked.has(id))); }, "aria-pressed": String(picked.has(id))}, words.pick.take);
  return button;
}

// --- writing ---

// Sends what a person decided or did under her name, and answers what the server acknowledged; nothing when she does not say who she
// is. Throws what it refused.
export async function record(path, body) {
  if (!who() && !(await askWho())) {
    alarm(words.who.needed);
    return undefined;
  }
  const done = await ask("POST", path, {...body, who: who()});
  alarm("");
  return done;
}

// The same, a conflict being shown and answered by the person, anything else that was refused shown as it is.
export async function write(path, body, mine = "") {
  try {
    return await record(path, body);
  } catch (error) {
    if (error.status === 409 && error.body.conflicts) return conflict(path, body, error.body.conflicts, mine);
    alarm(error.message);
    return undefined;
  }
}

async function conflict(path, body, conflicts, mine) {
  const others = conflicts.flatMap((one) => one.since);
  const rows = others.map((d) => d.verdict ? h("li", {}, words.again.verdict[d.verdict], ": ", fill(words.again.of, d), " — ", said(d.who), ", ", when(d.when)) : h("li", {}, termName(d.term), ": ", d.raw === "" ? words.read.taken_back : d.raw === "null" ? words.read.none_there : ["confirmed", "checked"].includes(d.term) ? "✓" : said(d.shown), " — ", said(d.who), ", ", when(d.when)));
  const again = await question(
    {title: words.conflict.title, ok: words.conflict.write, cancel: words.conflict.keep, careful: true, class: "conflict"},
    h("p", {}, fill(words.conflict.lead, {who: [...new Set(others.map((d) => d.who))].join(", ")})),
    h("h3", {}, words.conflict.theirs), h("ul", {}, rows), h("h3", {}, words.conflict.yours), h("p", {}, said(mine)));
  if (!again) return {kept_theirs: true};
  const now = Object.fromEntries(conflicts.map((one) => [one.id, one.seen]));
  const renewed = body.changes ? {...body, changes: body.changes.map((c) => (c.id in now ? {...c, seen: now[c.id]} : c))} : {...body, seen: now[body.id]};
  return write(path, renewed, mine);
}

export function remember(label, done) {
  if (done && done.before) state.undo.push({label, before: done.before});
}

// Takes the last action of this window back: what stood before stands again, both stay in the history.
export async function undo() {
  const last = state.undo.pop();
  if (!last) {
    say(words.read.nothing_to_undo);
    return null;
  }
  if (last.back) {   // no decision on an envelope: it knows itself how it is taken back
    const done = await last.back();
    if (done && !done.kept_theirs) say(fill(words.read.undone, {term: last.label}));
    return null;
  }
  const changes = [];
  for (const one of last.before) {
    const now = await guarded(() => get("/api/envelope", {id: one.id}));
    if (!now) return null;
    changes.push({id: one.id, term: one.term, seen: now.seen, ...(one.raw === "" || one.term === "confirmed" || one.term === "checked" ? {take_back: true} : {value: JSON.parse(one.raw)})});
  }
  const done = await write("/api/decide", {changes, note: "undo"}, last.label);
  if (done && !done.kept_theirs) say(fill(words.read.undone, {term: last.label}));
  return last.before[0].id;
}

// --- the list of envelopes that she goes through ---

// The list chosen under Find or Tins, else the one asked for; false, with a sentence in `place`, when there is nothing in it.
export async function queued(place, asked, name) {
  if (!state.queue.length) Object.assign(state, {queue: (await get("/api/ids", asked)).ids, queueName: name, at: 0});
  if (!state.queue.length) place.replaceChildren(h("p", {class: "empty"}, words.read.empty));
  return state.queue.length > 0;
}
export function goneOn(by) {
  const to = state.at + by;
  if (to < 0 || to >= state.queue.length) {
    say(words.read.end);
    return false;
  }
  state.at = to;
  return true;
}

// --- questions ---

// A dialog of the page; resolves to true, or false when it was left. A careful one is left by an Enter that was meant for what was before.
export function question({title, ok, cancel, wide, careful, class: name}, ...inside) {
  return new Promise((resolve) => {
    const back = document.activeElement;
    const form = h("form", {method: "dialog"}, h("h2", {id: "question-title"}, title), h("div", {class: "inside"}, inside),
      h("p", {class: "choices"}, ok && h("button", {value: "ok", class: "main"}, ok), h("button", {value: "", formnovalidate: true, autofocus: careful}, cancel ?? words.cancel)));
    const dialog = h("dialog", {"aria-labelledby": "question-title", class: [wide ? "wide" : "", name ?? ""].join(" ").trim()}, form);
    dialog.addEventListener("close", () => {
      dialog.remove();
      if (back && back.isConnected) back.focus();
      resolve(dialog.returnValue === "ok");
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}

export const singleKeys = () => localStorage.getItem("papillote.keys") !== "off";

export function level(name) {
  return h("span", {class: `level ${name}`}, words.level[name] ?? name);
}
// The folded triangle: empty as read, half with something settled, full when confirmed.
export function seal(settled) {
  const full = settled.includes("confirmed");
  const twice = settled.includes("checked");
  const name = twice ? words.term.checked : full ? words.term.confirmed : "";
  return s("svg", {viewBox: "0 0 14 12", class: `seal ${full ? "full" : settled.length ? "half" : ""}`, role: name ? "img" : null, "aria-label": name || null, "aria-hidden": name ? null : "true"},
    s("path", {class: "body", d: "M1 1h12L7 11z"}), full || !settled.length ? null : s("path", {class: "part", d: "M1 1h12L10 6H4z"}), twice ? s("path", {class: "bar", d: "M3.5 5h7"}) : null);
}
export const spot = (points) => points.map(([x, y]) => `${Math.round(x * 10) / 10},${Math.round(y * 10) / 10}`).join(" ");
