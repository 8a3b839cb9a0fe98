"""What a reader with eyes, or with a keyboard alone, meets on a page: measured in the browser, in CSS pixels."""

LEAST_PX = 24  # of what is pressed, WCAG 2.2, 2.5.8: here without its exceptions
OUTLINE_PX = 3

# Boxes of all texts that are seen: each line of each, and texts of drawings that stand upright.
TEXTS = """() => {
  const found = [];
  const seen = (box) => box.width > 1 && box.height > 1 && box.right > 0 && box.bottom > 0;
  const shown = (each) => each.checkVisibility({ visibilityProperty: true, opacityProperty: true });
  const clipped = (each) => getComputedStyle(each).clipPath !== "none";
  const hidden = [...document.querySelectorAll("thead")].filter(clipped);
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walk.nextNode(); node; node = walk.nextNode()) {
    const parent = node.parentElement;
    if (!node.data.trim() || ["SCRIPT", "STYLE", "NOSCRIPT", "OPTION"].includes(parent.tagName)) continue;
    if (hidden.some((each) => each.contains(parent))) continue;  // heard, not seen
    if (parent.closest("[aria-hidden=true], svg [transform*=rotate], .bands") || !shown(parent)) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    for (const box of range.getClientRects())
      if (seen(box)) found.push([node.data.trim().slice(0, 40), box.left, box.top, box.right, box.bottom]);
  }
  return found;
}"""

# Pairs of boxes that one sees and presses, neither within the other, that cover each other; and the parts of one
# that is set in a line and broken over several, where a part covers what is above it.
COVERED = """() => {
  const boxes = [...document.querySelectorAll("button, .button, input, select, output, .strong, .aside, .summary")]
    .filter((each) => each.checkVisibility())
    .flatMap((each) => [...each.getClientRects()].map((box) => [each, box]));
  const found = [];
  for (const [place, [one, a]] of boxes.entries()) for (const [other, b] of boxes.slice(place + 1))
    if ((one === other || !one.contains(other))
      && Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
      && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2) found.push([one.outerHTML, other.outerHTML]);
  return found;
}"""
BYTES = "() => performance.getEntriesByType('navigation')[0].decodedBodySize"
WIDTH = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"

# What can be pressed or filled in, with its box: of a choice that of its label, which can be pressed too.
TARGETS = """() => [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary")]
  .filter((each) => each.checkVisibility() && !each.closest("svg"))
  .map((each) => {
    const box = (each.type === "radio" ? each.closest("label") : each).getBoundingClientRect();
    return [each.innerText || each.id || each.name, box.width, box.height, box.right];
  }).filter(([, , , right]) => right > 0)"""

# Each place that Tab must reach is numbered; of a group of choices one is enough.
NUMBER = """() => {
  const places = [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")]
    .filter((each) => each.checkVisibility() && !each.disabled);
  return places.map((each, number) => {
    each.dataset.number = each.type === "radio" ? "group " + each.name : String(number);
    return each.dataset.number;
  });
}"""

FOCUS = """() => {
  const here = document.activeElement, style = getComputedStyle(here);
  const box = here.getBoundingClientRect();
  return { number: here.dataset.number ?? null,
    what: here.tagName + " " + (here.innerText || here.name || here.id).slice(0, 40),
    outline: style.outlineStyle === "none" ? 0 : parseFloat(style.outlineWidth),
    inside: box.right > 0 && box.bottom > 0 && box.left < innerWidth && box.top < innerHeight };
}"""


def overlapping(page):
    """Return the pairs of texts that lie over each other by more than the edges of their letters."""
    boxes = page.evaluate(TEXTS)
    boxes.sort(key=lambda each: each[2])
    found = []
    for place, (text, left, top, right, bottom) in enumerate(boxes):
        for other, left_2, top_2, right_2, bottom_2 in boxes[place + 1 :]:
            if top_2 > bottom - 1:
                break
            wide, high = min(right, right_2) - max(left, left_2), min(bottom, bottom_2) - top_2
            if wide > 2 and high > 0.25 * min(bottom - top, bottom_2 - top_2):
                found.append((text, other))
    return found


def small_targets(page):
    """Return what can be pressed and is narrower or lower than a finger needs."""
    return [target[:3] for target in page.evaluate(TARGETS) if min(target[1:3]) < LEAST_PX - 0.05]


def tabbed(page):
    """Press Tab through a page; return what to reach, what was reached, what had no outline in sight."""
    wanted = set(page.evaluate(NUMBER))
    page.evaluate("() => { document.activeElement.blur(); scrollTo(0, 0); }")
    reached, unseen = set(), []
    for _ in range(len(wanted) + 5):
        page.keyboard.press("Tab")
        here = page.evaluate(FOCUS)
        if here["number"] is None or here["number"] in reached:
            if wanted <= reached:
                break
            continue
        reached.add(here["number"])
        if here["outline"] < OUTLINE_PX or not here["inside"]:
            unseen.append(here)
    return wanted, reached, unseen
