// What a page lets a person see and reach, measured in the page as it is rendered.

// Runs in the page: every visible text whose contrast with what lies behind it is less than 4.5 to 1 (WCAG 2.2, success criterion 1.4.3;
// relative luminance as defined there). Disabled controls are left out, as the criterion leaves them out, and so is writing upon pictures.
export function faintTexts() {
  const channels = (colour) => {
    const [r, g, b, a = 1] = colour.match(/[\d.]+/g).map(Number);
    return {r, g, b, a};
  };
  const over = (top, below) => ({r: top.r * top.a + below.r * (1 - top.a), g: top.g * top.a + below.g * (1 - top.a), b: top.b * top.a + below.b * (1 - top.a), a: 1});
  const luminance = ({r, g, b}) => {
    const [x, y, z] = [r, g, b].map((c) => c / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
    return 0.2126 * x + 0.7152 * y + 0.0722 * z;
  };
  const ground = (element) => {
    const layers = [];
    for (let at = element; at; at = at.parentElement) layers.push(channels(getComputedStyle(at).backgroundColor));
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    return layers.reverse().reduce((below, layer) => over(layer, below), dark ? {r: 18, g: 18, b: 18, a: 1} : {r: 255, g: 255, b: 255, a: 1});
  };
  const faint = [];
  let seen = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const element = node.parentElement;
    if (!node.data.trim() || element.closest("svg.sheet, svg title, option") || element.closest(":disabled") || !element.checkVisibility({opacityProperty: true, visibilityProperty: true})) continue;
    const style = getComputedStyle(element);
    const below = ground(element);
    const [a, b] = [luminance(over(channels(element.closest("svg") ? style.fill : style.color), below)), luminance(below)].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    ++seen;
    if (ratio < 4.5) faint.push(`${ratio.toFixed(2)}: "${node.data.trim().slice(0, 40)}" in ${element.tagName.toLowerCase()}.${element.getAttribute("class") ?? ""}`);
  }
  return {seen, faint};
}

// Runs in the page: what moves by itself or glides when the person asked for less motion.
export function moving() {
  const seconds = (list) => Math.max(...list.split(",").map(parseFloat));
  return [...document.querySelectorAll("*")].filter((one) => {
    const style = getComputedStyle(one);
    return seconds(style.transitionDuration) > 0 || (style.animationName !== "none" && seconds(style.animationDuration) > 0) || style.scrollBehavior === "smooth";
  }).map((one) => one.tagName);
}

const kControls = new Set(["button", "link", "textbox", "searchbox", "combobox", "listbox", "checkbox", "radio", "spinbutton", "slider", "menuitem", "tab", "switch", "DisclosureTriangle"]);

// Controls as assistive technology meets them that have no name.
export async function nameless(page) {
  const session = await page.context().newCDPSession(page);
  const {nodes} = await session.send("Accessibility.getFullAXTree");
  await session.detach();
  const controls = nodes.filter((node) => !node.ignored && kControls.has(node.role?.value));
  return {seen: controls.length, nameless: controls.filter((node) => !node.name?.value?.trim()).map((node) => `${node.role.value} ${JSON.stringify(node.properties ?? [])}`)};
}

// Controls that the Tab key does not come to, having gone once around.
export async function unreachable(page) {
  const count = await page.evaluate(() => {
    const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")]
      .filter((one) => !one.disabled && one.checkVisibility({visibilityProperty: true}));
    all.forEach((one, i) => one.setAttribute("data-stop", String(i)));
    document.activeElement?.blur();
    document.body.tabIndex = -1;
    document.body.focus();
    return all.length;
  });
  const reached = new Set();
  for (let i = 0; i < count + 30 && reached.size < count; ++i) {
    await page.keyboard.press("Tab");
    const stop = await page.evaluate(() => document.activeElement?.getAttribute("data-stop"));
    if (stop !== null && stop !== undefined) reached.add(stop);
  }
  return page.evaluate((stops) => {
    const missed = [...document.querySelectorAll("[data-stop]")].filter((one) => !stops.includes(one.getAttribute("data-stop"))).map((one) => one.outerHTML.slice(0, 120));
    document.body.removeAttribute("tabindex");
    return missed;
  }, [...reached]);
}
