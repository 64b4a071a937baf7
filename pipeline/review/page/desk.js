// The frame of the page: views, keys, help. A view is one file in views/ and one line here and in words.en.json.
import {alarm, askWho, enter, fill, guarded, get, h, loadWords, question, showPicked, showWho, singleKeys, state, visible, who, words} from "./tools.js";
import * as find from "./views/find.js";
import * as read from "./views/read.js";
import * as care from "./views/care.js";
import * as tins from "./views/tins.js";
import * as pick from "./views/pick.js";
import * as scan from "./views/scan.js";
import * as again from "./views/again.js";

// Each exports show(place, about, go), and may export keys: key name -> function, decides: keys that decide something and must not be
// held down, takes(event): true for a key that is no key of the page, and leave().
const views = {find, read, care, tins, pick, scan, again};
let shown = "";

async function go(name, about = {}) {
  if (views[shown]?.leave) views[shown].leave();
  shown = name;
  for (const button of document.querySelectorAll("#views button")) button.setAttribute("aria-current", button.dataset.view === name ? "page" : "false");
  document.title = `${words.views[name]} · papillote`;
  const place = document.getElementById("bench");
  place.className = name;
  alarm("");
  await guarded(() => views[name].show(place, about, go));
}

function keyHelp() {
  const list = (name) => h("section", {}, h("h3", {}, words.help[`${name}_title`]), h("dl", {}, words.help[name].map(([key, does]) => [h("dt", {}, h("kbd", {}, key)), h("dd", {}, does)])));
  const single = h("input", {type: "checkbox", id: "single", checked: singleKeys(), onchange: () => localStorage.setItem("papillote.keys", single.checked ? "on" : "off")});
  return question({title: words.help.title, cancel: words.close, wide: true},
    h("p", {}, single, " ", h("label", {for: "single"}, words.help.single)), h("div", {class: "keylists"}, ["all", "read", "edit", "care", "again"].map(list)));
}

function keyName(event) {
  if (event.ctrlKey || event.metaKey) return "";
  return (event.altKey ? "Alt+" : "") + event.key;
}

// A hand scanner types faster than a hand. What comes so is no key of the page, and its Enter confirms nothing.
const kHandMs = 30;
const typed = {text: "", at: 0, waiting: 0};
function isScanned(event) {
  const quick = event.timeStamp - typed.at < kHandMs && !event.repeat;
  typed.at = event.timeStamp;
  if (event.key.length === 1) typed.text = quick ? typed.text + event.key : event.key;
  if (!quick || typed.text.length < 2) return false;
  clearTimeout(typed.waiting);
  event.preventDefault();
  if (event.key === "Enter") alarm(fill(words.scan.elsewhere, {code: visible(typed.text)}));
  return true;
}

document.addEventListener("keydown", (event) => {
  if (document.querySelector("dialog[open]")) return;
  const at = event.target;
  if (at.closest("input, textarea, select") && at.type !== "checkbox") return;
  const key = keyName(event);
  if (!key || views[shown]?.takes?.(event) || isScanned(event)) return;
  if (key === "Enter" && at.closest("button, a, [role=button]")) return;
  if (key.length === 1 && !singleKeys()) return;
  const common = {"?": keyHelp, "/": async () => { if (shown !== "find") await go("find"); document.getElementById("words")?.focus(); }};
  Object.keys(views).forEach((name, i) => { common[String(i + 1)] = () => go(name); });
  const does = views[shown]?.keys?.[key] ?? common[key];
  if (!does) return;
  event.preventDefault();
  if (event.repeat && (key === "Enter" || views[shown]?.decides?.includes(key))) return;   // held down, not looked at
  if (key.length === 1 && !event.repeat) typed.waiting = setTimeout(() => guarded(does), kHandMs);
  else guarded(does);
});

await loadWords();
document.getElementById("skip").textContent = words.skip;
document.getElementById("views").append(...Object.keys(views).map((name, i) => h("button", {type: "button", "data-view": name, onclick: () => go(name)}, words.views[name], name === "pick" ? h("span", {id: "picked"}) : null, h("kbd", {"aria-hidden": "true"}, String(i + 1)))));
const keys = document.getElementById("keys");
keys.append(words.keys, h("kbd", {"aria-hidden": "true"}, "?"));
keys.addEventListener("click", keyHelp);
showWho();
showPicked();
if (await guarded(async () => { await enter(); state.start = await get("/api/start"); state.terms = state.start.terms; return true; })) {
  await go("find");
  document.documentElement.dataset.ready = "yes";
  if (!who()) askWho();
}
