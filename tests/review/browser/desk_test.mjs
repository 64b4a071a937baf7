// The desk end to end: the program serves a collection, Debian's chromium shows it, and what the page says was done is asked of the
// program again. What is written on the envelopes is known from sample-images/*.expected.json.
//   node desk_test.mjs PROGRAM COLLECTION_MAKER FOLDER     FOLDER holds node_modules; pictures and report.json are written there
import assert from "node:assert/strict";
import {execFileSync, spawn} from "node:child_process";
import {existsSync, mkdirSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {createRequire} from "node:module";
import path from "node:path";
import {createInterface} from "node:readline";
import {after, test} from "node:test";
import {fileURLToPath} from "node:url";

import {faintTexts, moving, nameless, unreachable} from "./rendered.mjs";

const [program, maker, folder] = process.argv.slice(2);
const kBrowser = "/usr/bin/chromium";
for (const [what, remedy] of [[path.join(folder, "node_modules"), "scripts/fetch_browser_driver"], [kBrowser, "apt-get install chromium"]])
  if (!existsSync(what)) throw new Error(`${what} is missing; install it with: ${remedy}`);
const {chromium} = createRequire(path.join(folder, "x.js"))("playwright-core");

const collection = path.join(folder, "collection");
rmSync(collection, {recursive: true, force: true});
execFileSync(maker, [collection]);
const pictures = path.join(folder, "pictures");
mkdirSync(pictures, {recursive: true});
const report = {};

// --- what is true ---

const samples = path.join(path.dirname(fileURLToPath(import.meta.url)), "../../../sample-images");
const envelopes = ["tin01-sheet1-front", "tin03-sheet2", "tin03-sheet3"].flatMap((name) => {
  const photograph = JSON.parse(readFileSync(path.join(samples, `${name}.expected.json`))).photographs[0];
  return photograph.envelopes.map((one) => ({...one, tin: photograph.tin}));
});
envelopes.pop();   // the one that says what an attacker would write
const zandvoort = "Zandvoort (N.-Holland)\n6 augustus 1928\nN° 1489";
const sympetrum = envelopes.find((e) => e.text.startsWith("Sympetrum flaveolum"));
// The two that were photographed again, as tin 05 has them.
envelopes.push(...[envelopes.find((e) => e.text === zandvoort), sympetrum].map((e) => ({...e, tin: "05", slip: null, findings: []})));
const count = (holds) => envelopes.filter(holds).length;
function km(a, b) {   // great circle, mean radius of the earth (IUGG)
  const [p, q, d] = [a.lat, b.lat, b.lon - a.lon].map((x) => x * Math.PI / 180);
  return 6371.0088 * Math.acos(Math.min(1, Math.sin(p) * Math.sin(q) + Math.cos(p) * Math.cos(q) * Math.cos(d)));
}

// --- the program ---

let server = null;
async function serve() {
  server = spawn(program, ["desk", "--collection", collection], {stdio: ["ignore", "pipe", "inherit"]});
  const [address] = await new Promise((resolve, reject) => {
    createInterface({input: server.stdout}).once("line", (line) => resolve([line]));
    server.once("exit", (code) => reject(new Error(`the desk ended with ${code}`)));
  });
  return address;
}
async function killed() {
  const gone = new Promise((resolve) => server.once("exit", resolve));
  server.kill("SIGKILL");
  await gone;
}
const ask = (...words) => execFileSync(program, [...words, "--collection", collection], {encoding: "utf8"});
// What the index says of an envelope, by another process.
const indexed = (holds) => JSON.parse(ask("export", "json")).photographs.flatMap((p) => p.envelopes).find(holds);

// --- the browser ---

const browser = await chromium.launch({executablePath: kBrowser, headless: true, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]});
const faults = [];
let down = false;   // the program was killed: what was on its way breaks off
async function person(name, about = {}) {
  const context = await browser.newContext({viewport: {width: 1440, height: 900}, ...about});
  context.setDefaultTimeout(15_000);
  const page = await context.newPage();
  page.on("pageerror", (error) => faults.push(`${name}: ${error.message}`));
  page.on("console", (message) => { if (down && /ERR_CONTENT_LENGTH_MISMATCH/.test(message.text())) return; if (message.type() === "error" && !/status of (409|422)|ERR_CONNECTION_REFUSED|ERR_SOCKET|ERR_EMPTY_RESPONSE|ERR_CONNECTION_RESET/.test(message.text())) faults.push(`${name}: ${message.text()}`); });
  page.on("request", (request) => { if (!/^(http:\/\/127\.0\.0\.1:\d+\/|data:)/.test(request.url())) faults.push(`${name} asked for ${request.url()}`); });
  return page;
}
async function open(page, address, name) {
  await page.goto(address);
  await page.locator("html[data-ready=yes]").waitFor();
  const asked = page.locator("#who-name");
  await page.waitForFunction((known) => document.querySelector("#who-name") || document.querySelector("#who").textContent === known, name);
  if (await asked.count()) {
    await asked.fill(name);
    await page.keyboard.press("Enter");
    await asked.waitFor({state: "detached"});
  }
}
// With every picture of the view there.
async function shot(page, name) {
  await page.evaluate(() => Promise.all([...document.querySelectorAll("img, svg image")].map((one) => new Promise((resolve) => {
    const twin = new Image();
    twin.onload = twin.onerror = resolve;
    twin.src = one.getAttribute("src") ?? one.getAttribute("href");
  }))));
  await page.screenshot({path: path.join(pictures, `${name}.png`)});
}
// What is there when a view shows what it has to show.
const kViews = {find: ".count strong", read: ".facts", care: ".caution", tins: ".onesheet table", pick: ".picks", scan: "#code", again: ".twins"};
async function goTo(page, view) {
  await page.locator(`#views [data-view=${view}]`).click();
  await page.locator(`#bench.${view}`).locator(kViews[view]).first().waitFor();
}
const found = (page, n) => page.locator("#bench.find .count strong", {hasText: new RegExp(`^${n} of `)}).waitFor();
const said = (page, text) => page.locator("#say", {hasText: text}).waitFor();
// Find by words, then read the first.
async function read(page, words) {
  await goTo(page, "find");
  await page.getByRole("button", {name: "Clear all"}).click();
  await page.locator("#words").fill(words);
  await found(page, 1);
  await page.locator(".card").first().click();
  await page.locator("#bench.read .facts").waitFor();
}
// Opens the field for a fact by its key and writes into it.
async function correct(page, key, text, understood) {
  await page.keyboard.press(key);
  await page.locator("#typed:focus").waitFor();
  await page.keyboard.type(text);
  await page.locator(".will", {hasText: understood}).waitFor();
}
const fact = (page, term) => page.locator(".facts > li", {has: page.locator(".term", {hasText: new RegExp(`^${term}$`)})});

let address = await serve();
const ada = await person("Ada", {acceptDownloads: true});
after(async () => {
  await browser.close();
  server.kill();
  writeFileSync(path.join(folder, "report.json"), JSON.stringify(report, null, 1));
  console.log(JSON.stringify(report));
});

test("opens with every envelope, pictured, and asks for a name", async () => {
  await open(ada, address, "Ada");
  await found(ada, envelopes.length + 1);
  assert.equal(new URL(ada.url()).hash, "", "the key does not stay in the address");
  const picture = ada.locator(".thumb img").first();
  await picture.evaluate((image) => image.decode());
  assert.ok(await picture.evaluate((image) => image.naturalWidth) > 100);
  report.first_paint_ms = Math.round(await ada.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0].startTime));
  await shot(ada, "find");
});

test("finds by words, place with distance, period, tin, taxon and condition, counting as one types", async () => {
  await ada.locator("#words").pressSequentially("barcelonn");
  await found(ada, count((e) => e.text.includes("Barcelonnette")));
  await ada.getByRole("button", {name: "Clear all"}).click();

  const apeldoorn = {lat: 52.21, lon: 5.97};   // GeoNames 2759706
  await ada.locator("#km").fill("60");
  await ada.locator("#near").fill("Apeldoorn");
  await ada.keyboard.press("Enter");
  await found(ada, count((e) => e.place && km(e.place, apeldoorn) <= 60));
  await ada.locator("#km").fill("150");
  await found(ada, count((e) => e.place && km(e.place, apeldoorn) <= 150));
  assert.ok(count((e) => e.place && km(e.place, apeldoorn) <= 150) > count((e) => e.place && km(e.place, apeldoorn) <= 60), "the distance makes a difference");
  assert.ok(await ada.locator(".map path").count() > 50, "coasts are drawn");
  assert.ok(await ada.locator(".map circle").count() > 0);
  assert.equal(await ada.locator(".map .ring").count(), 1);
  await shot(ada, "find-near");
  await ada.getByRole("button", {name: "Clear all"}).click();

  await ada.locator("#from").fill("1893");
  await ada.locator("#to").fill("1895");
  await ada.keyboard.press("Tab");
  await found(ada, count((e) => e.date?.edtf && /^189[345]/.test(e.date.edtf)));
  await ada.getByRole("button", {name: "Clear all"}).click();
  await found(ada, envelopes.length + 1);
  const box = await ada.locator("svg.years").boundingBox();
  await ada.mouse.move(box.x + 1, box.y + 20);
  await ada.mouse.down();
  await ada.mouse.move(box.x + box.width * 0.3, box.y + 20);
  await ada.mouse.up();
  const [from, to] = [Number(await ada.locator("#from").inputValue()), Number(await ada.locator("#to").inputValue())];
  assert.ok(from > 1800 && to > from && to < 1935, `${from} to ${to}`);
  await found(ada, count((e) => e.date?.edtf && Number(e.date.edtf.slice(0, 4)) >= from && Number(e.date.edtf.slice(0, 4)) <= to));
  await ada.getByRole("button", {name: "Clear all"}).click();

  for (const [name, holds] of [["01", (e) => e.tin === "01"], ["Arctia caja", (e) => e.taxon === "Arctia caja"], ["frass", (e) => e.findings.some((f) => f.kind === "frass")]]) {
    await ada.locator(`.facet button[data-name="${name}"]`).click();
    await found(ada, count(holds));
    await ada.getByRole("button", {name: "Clear all"}).click();
    await found(ada, envelopes.length + 1);
  }
});

test("corrects a fact with the keyboard alone, offers it to all that say the same, and undoes it", async () => {
  await ada.keyboard.press("/");
  await ada.locator("#words:focus").waitFor();
  await ada.keyboard.type("PLT-3-1108");
  await found(ada, 1);
  for (let i = 0; i < 60 && !(await ada.evaluate(() => document.activeElement.classList.contains("card"))); ++i) await ada.keyboard.press("Tab");
  await ada.keyboard.press("Enter");
  await fact(ada, "Date").locator(".open").waitFor();
  await correct(ada, "d", "13.viii.1932", "1932-08-13");
  await shot(ada, "read-correcting");
  await ada.keyboard.press("Enter");
  await said(ada, "Date settled");
  await fact(ada, "Date").getByText("1932-08-13", {exact: true}).waitFor();
  assert.equal(indexed((e) => e.catalogue_number === "PLT-3-1108" || e.id === "PLT-3-1108")?.date.edtf, "1932-08-13");

  await correct(ada, "p", "Barcelonnette @ 44.387, 6.652, 2", "44.387");
  await ada.keyboard.press("Enter");
  await said(ada, "Place settled");
  await ada.keyboard.press("a");
  const rows = ada.locator("dialog .alike tbody tr");
  await rows.first().waitFor();
  const like = envelopes.find((e) => e.text === "Barcelonnette, France\n2.iv.32");
  const row = rows.filter({hasText: "2.iv.32"});
  assert.equal(await row.count(), 1);
  assert.match(await row.innerText(), new RegExp(`${like.place.lat.toFixed(3)}[\\s\\S]*44\\.387`), "before and after stand side by side");
  await shot(ada, "read-alike");
  await ada.keyboard.press("Enter");
  await said(ada, "more corrected");
  const other = (e) => e.text === like.text;
  assert.equal(indexed(other).place.lat, 44.387);
  await ada.keyboard.press("u");
  await said(ada, "Undone: Place");
  assert.equal(indexed(other).place.lat, like.place.lat);
  await shot(ada, "read");
});

test("refutes a finding", async () => {
  const frass = (e) => e.text === "Callimorpha dominula L.\nDigne, France";
  assert.equal(indexed(frass).findings.length, 1);
  await read(ada, "dominula");
  await goTo(ada, "care");
  await ada.locator(".findings li.chosen", {hasText: "frass"}).waitFor();
  await shot(ada, "care");
  await ada.keyboard.press("r");
  await ada.locator(".findings li.refuted").waitFor();
  assert.equal(indexed(frass).findings.length, 0);
});

test("shows a second person what the first decided meanwhile, and overwrites nothing", async () => {
  const ben = await person("Ben");
  await open(ben, address, "Ben");
  for (const page of [ada, ben]) await read(page, "aviemore");
  await correct(ada, "d", "1934-03-04", "1934-03-04");
  await ada.keyboard.press("Enter");
  await said(ada, "Date settled");
  await correct(ben, "d", "1934-03-05", "1934-03-05");
  await ben.keyboard.press("Enter");
  const conflict = ben.locator("dialog.conflict");
  await conflict.getByText("Ada").first().waitFor();
  assert.match(await conflict.innerText(), /1934-03-04[\s\S]*1934-03-05/);
  await shot(ben, "conflict");
  await ben.keyboard.press("Enter");   // out of habit: it writes nothing
  await fact(ben, "Date").getByText("1934-03-04", {exact: true}).waitFor();
  assert.equal(indexed((e) => e.text.startsWith("Aviemore")).date.edtf, "1934-03-04");
  await ben.context().close();
});

test("chooses envelopes, prints the list and records them as picked", async () => {
  await goTo(ada, "find");
  await ada.getByRole("button", {name: "Clear all"}).click();
  await ada.locator("#words").fill("lewes");
  const lewes = count((e) => /Lewes/.test(e.text)) + 1;   // and what the attacker wrote
  await found(ada, lewes);
  await ada.getByRole("button", {name: "Pick these"}).click();
  await said(ada, `${lewes} on the pick list`);
  await ada.locator(".picker[aria-pressed=true]").nth(lewes - 1).waitFor();
  await ada.locator(".picker").last().click();
  assert.equal((await ada.locator("#picked").innerText()).trim(), `(${lewes - 1})`);
  await ada.locator(".picker").last().click();
  await goTo(ada, "pick");
  await ada.locator(".picks tbody tr").nth(lewes - 1).waitFor();
  await shot(ada, "pick");

  const link = ada.getByRole("link", {name: "Print the list"});
  const [sheet] = await Promise.all([ada.context().waitForEvent("response", (r) => r.url().includes("pick-list.pdf")), link.click()]);
  assert.equal(sheet.status(), 200);
  const pdf = await ada.context().request.get(new URL(await link.getAttribute("href"), ada.url()).href);
  assert.equal(pdf.headers()["content-type"], "application/pdf");
  const file = path.join(pictures, "pick-list.pdf");
  writeFileSync(file, await pdf.body());
  const printed = execFileSync("pdftotext", ["-layout", file, "-"], {encoding: "utf8"});
  for (const words of ["31.7.1928", "27.v.29", "Ada"]) assert.ok(printed.includes(words), `${words} in the printed list`);

  await ada.bringToFront();
  await ada.getByRole("button", {name: `Record ${lewes} as picked`}).click();
  await said(ada, `${lewes} recorded as picked`);
  assert.equal(await ada.locator(".picks td.open", {hasText: "picked, Ada"}).count(), lewes);
  assert.match(ask("whereabouts", "PLT-1-1056"), /picked .*Ada/);
  await ada.getByRole("button", {name: "Clear the list"}).click();
  await ada.locator(".empty").waitFor();
});

test("moves what a hand scanner reads, and refuses what cannot be", async () => {
  const scan = async (page, code) => {   // a burst as a scanner types it, wherever the cursor is
    await page.keyboard.type(code);
    await page.keyboard.press("Enter");
  };
  const newest = (text) => ada.locator(".scans > li").first().filter({hasText: text}).waitFor();
  await goTo(ada, "scan");
  await ada.locator("#kind").selectOption("housed");
  await ada.locator("#where").fill("drawer 12, tray 3");
  await ada.evaluate(() => document.activeElement.blur());
  await scan(ada, "PLT-1-1056");
  await newest(/PLT-1-1056 housed · drawer 12, tray 3/);
  assert.match(ask("whereabouts", "PLT-1-1056"), /housed.*drawer 12, tray 3/);

  await scan(ada, "place=drawer 14");
  await newest("What follows goes to drawer 14.");
  await scan(ada, "PLT-3-1108");
  await newest(/PLT-3-1108 housed · drawer 14/);
  await scan(ada, "PLT-1-1056");
  await newest(/PLT-1-1056 refused.*is recorded as housed \(drawer 12, tray 3\)/);
  const before = ask("whereabouts", "--csv");
  for (const [code, sentence] of [["PLT-9-9999", /is no envelope|misread|no catalogue number/], ["C6BA9CDM9Z2", /misread/], ["<b>x</b>", /no catalogue number/]]) {
    await scan(ada, code);
    await newest(sentence);
  }
  assert.equal(ask("whereabouts", "--csv"), before, "what is not known changes nothing");
  await shot(ada, "scan");

  await ada.getByRole("button", {name: "Recording PLT-3-1108 was wrong"}).click();
  await newest(/PLT-3-1108 returned/);
  const history = ask("whereabouts", "PLT-3-1108");
  assert.match(history, /housed.*drawer 14[\s\S]*returned/, "both stay in the history");
  await ada.reload();
  await ada.locator("html[data-ready=yes]").waitFor();
});

test("says by the keyboard which envelopes were photographed before, undoes it, and overwrites nobody", async () => {
  const twins = (page, text) => page.locator(".twins .writing").first().filter({hasText: text}).waitFor();
  const settled = () => ask("again", "--settled").trim().split("\n").filter(Boolean);
  const seen = async () => Number(JSON.parse(ask("export", "json")).photographs.flatMap((p) => p.envelopes).filter((e) => e.text.startsWith("Zandvoort (N.-Holland)\n6")).map((e) => e.id).filter((id, i, all) => all.indexOf(id) === i).length);
  const proposed = JSON.parse(ask("again", "--json"));
  assert.deepEqual(proposed.map((p) => p.newer.photo), ["tin05-sheet1.jpg", "tin05-sheet1.jpg"], "these two and no others");
  assert.equal(await seen(), 2);

  await ada.keyboard.press("7");
  await ada.locator("#bench.again .twins").waitFor();
  await ada.locator("#bench.again .bar", {hasText: "2 of 2 not yet settled"}).waitFor();
  const first = await ada.locator(".twins .writing").first().innerText();
  if (!first.startsWith("Zandvoort")) await ada.keyboard.press("j");
  await twins(ada, "Zandvoort");
  assert.equal(await ada.locator(".twins mark").first().innerText(), "l", "what was read otherwise is set off");
  assert.match(await ada.locator(".why").innerText(), /\d\d % likely the same: .*the text agrees to/);
  for (const picture of await ada.locator(".twins image").all())
    assert.ok(await picture.evaluate((one) => new Promise((resolve) => {
      const twin = new Image();
      twin.onload = () => resolve(twin.naturalWidth);
      twin.onerror = () => resolve(0);
      twin.src = one.getAttribute("href");
    })) > 300, "both pictures are there");
  await shot(ada, "again");

  const ben = await person("Ben");
  await open(ben, address, "Ben");
  await goTo(ben, "again");
  if (!(await ben.locator(".twins .writing").first().innerText()).startsWith("Zandvoort")) await ben.keyboard.press("j");
  await twins(ben, "Zandvoort");

  await ada.keyboard.press("s");
  await said(ada, "Settled: the same");
  await twins(ada, "Sympetrum");
  assert.equal(await seen(), 1, "one record from now on");
  assert.match(settled().join(), /same  Ada/);

  await ben.keyboard.press("o");
  const conflict = ben.locator("dialog.conflict");
  await conflict.getByText("Ada").first().waitFor();
  assert.match(await conflict.innerText(), /the same[\s\S]*Ada[\s\S]*two/);
  await shot(ben, "again-conflict");
  await ben.keyboard.press("Enter");   // out of habit: it writes nothing
  await ben.locator(".again .foot button[aria-pressed=true]", {hasText: "Same envelope"}).waitFor();
  await ben.locator(".past", {hasText: "Ada"}).waitFor();
  assert.equal(settled().length, 1);
  await ben.context().close();

  await ada.keyboard.press("o");
  await said(ada, "Settled: two");
  await ada.locator("#bench.again .bar", {hasText: "0 of 2 not yet settled"}).waitFor();
  assert.match(settled().at(-1), /other  Ada/);
  for (const words of ["the same envelope — Ada", "two envelopes — Ada"]) await ada.locator("#bench.again nav button", {hasText: words}).waitFor();
  await shot(ada, "again-settled");
  await ada.keyboard.press("u");
  await said(ada, "Undone: two");
  assert.match(settled().at(-1), /taken back  Ada/);
  await ada.locator("#bench.again .bar", {hasText: "1 of 2 not yet settled"}).waitFor();
  await ada.keyboard.press("u");
  await said(ada, "Undone: the same");
  assert.equal(await seen(), 2);

  // A key that is held down answers one pair, not all that come after it.
  await twins(ada, "Zandvoort");
  await ada.keyboard.down("s");
  await twins(ada, "Sympetrum");
  for (let i = 0; i < 3; ++i) await ada.keyboard.down("s");
  await ada.keyboard.up("s");
  await ada.waitForTimeout(300);
  await ada.locator("#bench.again .bar", {hasText: "1 of 2 not yet settled"}).waitFor();
  assert.equal(await seen(), 1);
  // What was settled is listed when the view is opened again, and taken back from there.
  await goTo(ada, "tins");
  await goTo(ada, "again");
  const row = ada.locator("#bench.again nav button", {hasText: "the same envelope — Ada"});
  await row.click();
  await ada.locator(".again .foot button[aria-pressed=true]", {hasText: "Same envelope"}).waitFor();
  await ada.keyboard.press("t");
  await said(ada, "Settled: taken back");
  await ada.locator("#bench.again .bar", {hasText: "2 of 2 not yet settled"}).waitFor();
  assert.equal(await seen(), 2);
  assert.equal(JSON.parse(ask("again", "--json")).length, 2, "asked again");
});

test("takes no scan for a key of the page", async () => {
  await read(ada, "digne");
  const before = ask("export", "json");
  // In one breath, as no driver of a browser types when the machine is busy.
  await ada.evaluate((code) => [...code, "Enter"].forEach((key) => document.body.dispatchEvent(new KeyboardEvent("keydown", {key, bubbles: true, cancelable: true}))), "C6BA9CDM9Z1-dpt");
  await ada.locator("#alarm p", {hasText: "came from a hand scanner"}).waitFor();
  assert.equal(await ada.locator("dialog").count(), 0);
  assert.equal(ask("export", "json"), before);
  await goTo(ada, "scan");
  await ada.locator("button.main").focus();
  await ada.keyboard.type("123d");
  assert.equal(await ada.locator("#code").inputValue(), "123d");
  assert.equal(await ada.locator("#bench.scan").count(), 1);
});

test("shows hostile text as text", async () => {
  await read(ada, "hyperlink");
  const text = await ada.locator(".lines li .said").first().innerText();
  assert.match(text, /^<img src=x onerror=.*<script>[\s\S]*=HYPERLINK\("http:\/\/x","y"\)[\s\S]*<U\+202E><U\+2066> 1929$/);
  assert.match(await ada.locator(".lines li").first().innerText(), /handwritten · 90 % sure$/);
  assert.equal(await ada.locator("#bench script, #bench img[src='x'], #bench img[src$='/x']").count(), 0);
  assert.match(await ada.title(), /papillote$/);
  assert.equal(await ada.locator(".lines li .said").first().evaluate((one) => getComputedStyle(one).unicodeBidi), "isolate");
  await shot(ada, "hostile");
  await correct(ada, "c", "<script>document.title='broken in'</script>", "<script>");
  await ada.keyboard.press("Enter");
  await said(ada, "Collector settled");
  await goTo(ada, "find");
  await goTo(ada, "tins");
  await ada.locator(".onesheet").first().waitFor();
  assert.match(await ada.title(), /papillote$/);
});

test("keeps every acknowledged click when the program is killed between two", async () => {
  await goTo(ada, "find");
  await ada.getByRole("button", {name: "Clear all"}).click();
  await ada.locator('.facet button[data-name="03"]').click();
  await found(ada, count((e) => e.tin === "03") + 1);
  await ada.getByRole("button", {name: "Read these"}).click();
  const shown = () => ada.locator(".glass image").evaluate((one) => new URL(one.getAttribute("href"), location).searchParams.get("id"));
  const acknowledged = [];
  for (let i = 0; i < 6; ++i) {
    const id = await shown();
    await ada.keyboard.press("Enter");
    await ada.waitForFunction((was) => !document.querySelector(".glass image").getAttribute("href").includes(was), id);
    acknowledged.push(id);
  }
  await ada.keyboard.press("Enter");   // perhaps acknowledged, perhaps not
  down = true;
  await killed();
  await ada.keyboard.press("Enter");
  await ada.locator("#alarm p", {hasText: "papillote does not answer"}).waitFor();
  await shot(ada, "killed");
  const counted = Number((await ada.locator("#bench.read .bar").first().innerText()).match(/(\d+) confirmed in this sitting/)[1]);
  address = await serve();
  down = false;
  await open(ada, address, "Ada");
  const standing = (id) => ada.evaluate(async (asked) => (await (await fetch(`/api/envelope?id=${asked}`, {headers: {"X-Papillote-Token": localStorage.getItem("papillote.token")}})).json()).confirmed?.who, id);
  for (const id of acknowledged) assert.equal(await standing(id), "Ada", id);
  await ada.locator("#progress").selectOption("confirmed");
  await ada.locator("#bench.find .count strong", {hasText: new RegExp(`^(${counted}|${counted + 1}) of `)}).waitFor();
});

test("confirms from the keyboard at a pace that is reported", async () => {
  await ada.locator("#progress").selectOption("open");
  await ada.getByRole("button", {name: "Read these"}).click();
  await ada.locator("#bench.read h2").waitFor();
  const begun = performance.now();
  const kEnvelopes = 25;
  for (let i = 0; i < kEnvelopes; ++i) {
    const name = await ada.locator("#bench.read h2").innerText();
    await ada.locator(".glass image").evaluate((one) => new Promise((resolve) => {   // she looks before she confirms
      const twin = new Image();
      twin.onload = twin.onerror = resolve;
      twin.src = one.getAttribute("href");
    }));
    await ada.keyboard.press("Enter");
    await ada.waitForFunction((was) => document.querySelector("#bench.read h2").innerText !== was, name);
  }
  report.envelopes_per_minute = Math.round(kEnvelopes / ((performance.now() - begun) / 60_000));
  await ada.locator("#bench.read .bar", {hasText: `${kEnvelopes} confirmed in this sitting`}).waitFor();
});

for (const scheme of ["light", "dark"])
  test(`can be read, named and reached: ${scheme}`, async () => {
    const page = await person(`Cleo, ${scheme}`, {colorScheme: scheme, reducedMotion: "reduce"});
    await open(page, address, "Cleo");
    await found(page, envelopes.length + 1);
    await page.locator(".picker").first().click();
    await page.locator('.facet button[data-name="03"]').click();
    await page.locator("#near").fill("50.87, 0.01");
    await page.keyboard.press("Enter");
    for (const view of Object.keys(kViews)) {
      await goTo(page, view);
      const {seen, faint} = await page.evaluate(faintTexts);
      assert.ok(seen > 10, `${view}: ${seen} texts`);
      assert.deepEqual(faint, [], `${view}: contrast below 4.5 to 1`);
      assert.doesNotMatch(await page.locator("#bench").innerText(), /\b(null|undefined|NaN)\b|\[object/, view);
      const controls = await nameless(page);
      assert.ok(controls.seen > 5, `${view}: ${controls.seen} controls`);
      assert.deepEqual(controls.nameless, [], view);
      assert.deepEqual(await page.evaluate(moving), [], view);
      await page.mouse.move(5, 300);
      await shot(page, `${scheme}-${view}`);
      if (scheme === "light") assert.deepEqual(await unreachable(page), [], `${view}: not reached with Tab`);
    }
    await page.keyboard.press("Escape");
    await page.locator("#keys").click();
    await page.locator("dialog dl").first().waitFor();
    assert.deepEqual((await page.evaluate(faintTexts)).faint, []);
    assert.deepEqual((await nameless(page)).nameless, []);
    await shot(page, `${scheme}-keys`);
    await page.context().close();
  });

test("asked nothing of any other machine and ran into no fault", () => assert.deepEqual(faults, []));
