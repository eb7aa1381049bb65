"""What a page must keep for readers who see badly, hear it read or use the keyboard: rules evaluated in the browser.

The rules follow WCAG 2.2 (W3C Recommendation), success criteria named beside each. They are few and see no further than
said: shapes drawn behind the text of a graphic, text over images, and whether the words of a name are good ones are
left to a person.
"""

from typing import Any, NamedTuple

#: Evaluated in the page; gives [rule, element, finding] for each fault.
_FAULTS = r"""() => {
  const faults = [];
  const all = (chosen, within = document) => [...within.querySelectorAll(chosen)];
  const told = each => { const words = (each.textContent || "").trim().replace(/\s+/g, " ").slice(0, 40);
    const named = each.getAttribute("class") ? "." + each.getAttribute("class").trim().replace(/\s+/g, ".") : "";
    return `<${each.tagName.toLowerCase()}${named}> ${words}`; };
  const fault = (rule, each, found) => faults.push([rule, told(each), found]);
  const hidden = each => each.closest("[aria-hidden=true]") !== null;
  all("details").forEach(each => { each.open = true; });

  // 1.4.3 Contrast (minimum); relative luminance and contrast ratio as WCAG 2.2 defines them.
  const parts = colour => { const found = /^rgba?\(([^)]+)\)$/.exec(colour);
    if (!found) return null;
    const [r, g, b, a = 1] = found[1].split(/[\s,\/]+/).map(Number); return [r, g, b, a]; };
  const over = (top, below) => [0, 1, 2].map(i => top[i] * top[3] + below[i] * (1 - top[3])).concat(1);
  const luminance = rgb => { const [r, g, b] = rgb.slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const contrast = (one, other) => { const [a, b] = [luminance(one), luminance(other)];
    return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05); };
  const behind = each => { const layers = [];
    for (let at = each; at; at = at.parentElement) { const style = getComputedStyle(at);
      if (style.backgroundImage !== "none") return null;
      const layer = parts(style.backgroundColor); if (!layer) return null;
      layers.push(layer); if (layer[3] === 1) break; }
    return layers.reverse().reduce((below, layer) => over(layer, below), [255, 255, 255, 1]); };
  const opacity = each => { let whole = 1;
    for (let at = each; at; at = at.parentElement) whole *= Number(getComputedStyle(at).opacity); return whole; };
  const shown = each => { const box = each.getBoundingClientRect();
    return each.checkVisibility({ visibilityProperty: true }) && box.width > 1 && box.height > 1; };
  const held = (each, style, words) => {
    const ink = parts(each.closest("svg") ? style.fill : style.color), paper = behind(each);
    if (!ink || !paper) return fault("contrast", each, "cannot be told: its colours are no plain ones");
    const size = parseFloat(style.fontSize), weight = Number(style.fontWeight);
    const least = size >= 24 || (size >= 18.66 && weight >= 700) ? 3 : 4.5;
    const found = contrast(over([ink[0], ink[1], ink[2], ink[3] * opacity(each)], paper), paper);
    if (found < least)
      fault("contrast", each, `${found.toFixed(2)} to 1, least ${least}: ${words.trim().slice(0, 30)}`);
  };
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), seen = new Set();
  while (texts.nextNode()) { const each = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || seen.has(each) || !shown(each)) continue;
    seen.add(each); held(each, getComputedStyle(each), texts.currentNode.data); }
  all("body *").forEach(each => ["::before", "::after"].forEach(kind => { const style = getComputedStyle(each, kind);
    const words = style.content.replace(/^(none|normal|counter.*)$/, "");
    if (style.display !== "none" && /[^\s"]/.test(words) && shown(each)) held(each, style, words); }));

  // 2.4.4 Link purpose, 4.1.2 Name, role, value.
  const byId = ids => (ids || "").split(/\s+/).map(id => document.getElementById(id)?.textContent || "").join(" ");
  const spoken = each => { const copy = each.cloneNode(true);
    all("[aria-hidden=true], select, script, style", copy).forEach(part => part.remove());
    return [copy.textContent, ...all("[alt], [aria-label]", copy).map(part => part.getAttribute("alt")
      || part.getAttribute("aria-label"))].join(" "); };
  const nameOf = each => [byId(each.getAttribute("aria-labelledby")), each.getAttribute("aria-label"), each.title,
    ...[...(each.labels || [])].map(spoken), ["INPUT", "SELECT", "TEXTAREA"].includes(each.tagName) ? "" : spoken(each)]
    .join("").trim();
  all("a[href], button, summary, input:not([type=hidden]), select, textarea, [role=button], [role=link]")
    .filter(each => !nameOf(each)).forEach(each => fault("name", each, "has no name"));

  // 1.3.1 Info and relationships, 2.4.6 Headings and labels.
  const heads = all("h1, h2, h3, h4, h5, h6");
  if (all("h1").length !== 1) fault("headings", document.body, `${all("h1").length} headings of level 1, not one`);
  heads.forEach((each, place) => { const level = Number(each.tagName[1]), before = place
      ? Number(heads[place - 1].tagName[1]) : 0;
    if (level > before + 1) fault("headings", each, `level ${level} follows level ${before}`);
    if (!spoken(each).trim()) fault("headings", each, "is empty"); });
  all("table").forEach(table => { const own = [...table.rows].flatMap(row => [...row.cells]);
    if (!own.some(each => each.tagName === "TH")) fault("tables", table, "has no header cell");
    own.filter(each => each.tagName === "TH").forEach(each => {
      if (!["col", "row", "colgroup", "rowgroup"].includes(each.getAttribute("scope")))
        fault("tables", each, "header cell without scope");
      if (!spoken(each).trim()) fault("tables", each, "header cell without text"); }); });

  // 1.1.1 Non-text content: named, or hidden from being read where words beside it say the same.
  all("img, input[type=image]").filter(each => !each.hasAttribute("alt"))
    .forEach(each => fault("images", each, "has no alt"));
  all("svg").filter(each => !each.parentElement.closest("svg")).forEach(each => {
    if (hidden(each)) { const around = each.closest("td, th, li, figure, p, section") || document.body;
      const copy = around.cloneNode(true); all("svg", copy).forEach(part => part.remove());
      if (!copy.textContent.trim()) fault("images", each, "is hidden from being read and has no words beside it"); }
    else {
      // A graphic with links in it names its picture, which the links stand beside: inside an image they are not heard.
      const pictures = [each, ...each.querySelectorAll(":scope > g")].filter(one => one.getAttribute("role") === "img");
      const named = one => (one.getAttribute("aria-label") || byId(one.getAttribute("aria-labelledby"))
        || one.querySelector(":scope > title")?.textContent || "").trim();
      if (!pictures.length || !pictures.every(named)) fault("images", each, "has no text alternative"); } });

  // 3.1.1 Language of page, 2.4.2 Page titled; an id names one element (HTML Standard, the id attribute).
  if (!/^[a-z]{2,3}(-[A-Za-z0-9]+)*$/.test(document.documentElement.lang))
    faults.push(["language", "<html>", "no lang"]);
  if (!document.title.trim()) faults.push(["language", "<title>", "no title"]);
  const ids = all("[id]").map(each => each.id);
  [...new Set(ids.filter((id, place) => ids.indexOf(id) !== place))].forEach(id => faults.push(["ids", id, "twice"]));
  return faults;
}"""

#: Marks what Tab must reach and keeps an account of what it did reach, and how that looked.
_WATCH = r"""() => {
  const wanted = [...document.querySelectorAll("a[href], button, summary, input, select, textarea, [onclick],"
      + "[tabindex]:not([tabindex^='-'])")]
    .filter(each => each.checkVisibility({ visibilityProperty: true }) && !each.disabled && each.type !== "hidden"
      // What the keyboard passes over in a picture it reaches in the list beside it.
      && !(each.matches("svg a[tabindex^='-']") && [...document.querySelectorAll("a:not([tabindex^='-'])")]
        .some(other => other.getAttribute("href") === each.getAttribute("href"))));
  const reached = new Set(), bare = new Set();
  document.addEventListener("focusin", event => { const each = event.target, style = getComputedStyle(each);
    reached.add(each);
    if (style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 1
        || /, 0\)$|transparent/.test(style.outlineColor)) bare.add(each); });
  const told = each => `<${each.tagName.toLowerCase()}> ${each.textContent.trim().replace(/\s+/g, " ").slice(0, 40)}`;
  window.tabbing = () => ({ left: wanted.filter(each => !reached.has(each)).map(told), bare: [...bare].map(told) });
  return wanted.length;
}"""


class Fault(NamedTuple):
    """One fault: the rule that is broken, the element, what was found there."""

    rule: str
    element: str
    found: str


def faults(tab: Any) -> list[Fault]:
    """Return what the page in the tab breaks, in the scheme and at the width it is shown in; opens what is folded."""
    return [Fault(*each) for each in tab.evaluate(_FAULTS)]


def keyboard_faults(tab: Any) -> list[Fault]:
    """Return what the Tab key does not reach, and what it reaches without showing it.

    WCAG 2.2, 2.1.1 Keyboard and 2.4.7 Focus visible. Regions that scroll are reached, too, so a few more steps are
    taken than there are things to reach.
    """
    wanted = tab.evaluate(_WATCH)
    for steps in (wanted, *[10] * (1 + wanted // 10)):
        for _ in range(steps):
            tab.keyboard.press("Tab")
        account = tab.evaluate("window.tabbing()")
        if not account["left"]:
            break
    return [Fault("keyboard", each, "is not reached by Tab") for each in account["left"]] + [
        Fault("focus", each, "shows nothing when it has the focus") for each in account["bare"]
    ]
