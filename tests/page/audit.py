"""What WCAG 2.2 asks of a page, measured in a real browser: contrast, names of controls, the way of the Tab key.

Published source of the formulas: Web Content Accessibility Guidelines 2.2 (W3C Recommendation), definitions of
relative luminance and contrast ratio; success criteria 1.4.3, 1.4.11, 2.1.1, 2.4.7, 2.5.8, 4.1.2.
"""

from __future__ import annotations

from dataclasses import dataclass

TEXT_LEAST, LARGE_TEXT_LEAST, PART_LEAST = 4.5, 3.0, 3.0
LARGE_PX, LARGE_BOLD_PX, BOLD = 24.0, 18.66, 700
"""Large text: 18 pt, or 14 pt bold; 1 pt is 4/3 px."""

LEAST_TARGET_PX = 24.0
MOST_TABS = 200

Colour = tuple[float, float, float]


def luminance(colour: Colour) -> float:
    """Return the relative luminance of an sRGB colour, channels 0-255."""

    def linear(channel: float) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = map(linear, colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Colour, other: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


_COLOURS = """
const rgba = (text) => {
  const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = text; canvas.fillRect(0, 0, 1, 1);
  const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
  return [r, g, b, a / 255];
};
const over = (top, under) => [0, 1, 2].map((i) => top[i] * top[3] + under[i] * (1 - top[3]));
const ground = (element) => {
  const layers = [];
  for (let at = element; at; at = at.parentElement) layers.push(rgba(getComputedStyle(at).backgroundColor));
  return layers.reverse().reduce((under, layer) => over(layer, under), [255, 255, 255]);
};
const visible = (element) => element.checkVisibility({ opacityProperty: true, visibilityProperty: true })
  && element.getClientRects().length > 0;
"""

_TEXTS = f"""() => {{
{_COLOURS}
const heard = (element) => {{
  const box = element.getBoundingClientRect();
  return box.width <= 1 || box.height <= 1;
}};
const found = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {{
  const text = walk.currentNode.textContent.trim(), element = walk.currentNode.parentElement;
  if (!text || !visible(element) || heard(element)) continue;
  if (["SCRIPT", "STYLE", "OPTION"].includes(element.tagName)) continue;
  if (element.closest(":disabled, [aria-disabled=true]")) continue;
  const style = getComputedStyle(element), under = ground(element);
  found.push({{ text, colour: over(rgba(style.color), under), ground: under,
    size: parseFloat(style.fontSize), weight: Number(style.fontWeight) }});
}}
return found;
}}"""

_CONTROLS = (
    "button, a[href], input:not([type=hidden]), select, textarea, [role=button], [role=switch], [tabindex='0']"
)
_BUTTONS_AND_FIELDS = "button, input[type=text], input[type=number], select, textarea, [role=switch]"

_PARTS = f"""() => {{
{_COLOURS}
return [...document.querySelectorAll("{_BUTTONS_AND_FIELDS}")]
  .filter((element) => visible(element) && !element.disabled)
  .map((element) => {{
    const style = getComputedStyle(element), around = ground(element.parentElement);
    const box = element.getBoundingClientRect();
    const edged = parseFloat(style.borderTopWidth) > 0 && style.borderTopStyle !== "none";
    return {{ what: element.outerHTML.slice(0, 120), around, ground: ground(element),
      edge: edged ? over(rgba(style.borderTopColor), around) : null, width: box.width, height: box.height }};
  }});
}}"""

_FOCUSED = f"""() => {{
{_COLOURS}
const at = document.activeElement;
if (!at || at === document.body) return null;
const all = [...document.querySelectorAll("*")];
const style = getComputedStyle(at), around = ground(at.parentElement);
const outlined = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1;
return {{ place: all.indexOf(at), what: at.outerHTML.slice(0, 120), group: at.type === "radio" ? at.name : null,
  outline: outlined ? over(rgba(style.outlineColor), around) : null, around }};
}}"""

_TO_REACH = f"""() => {{
{_COLOURS}
const all = [...document.querySelectorAll("*")];
return [...document.querySelectorAll(`{_CONTROLS}`)]
  .filter((element) => visible(element) && !element.disabled)
  .map((element) => ({{ place: all.indexOf(element), what: element.outerHTML.slice(0, 120),
    group: element.type === "radio" ? element.name : null }}));
}}"""


@dataclass(frozen=True)
class Walk:
    """The way of the Tab key. unreached: controls it never came to. unseen: where its place could not be seen."""

    visited: list[str]
    unreached: list[str]
    unseen: list[str]


def faint_texts(page) -> list[str]:
    """Return the texts whose contrast with what is behind them is too low, with the ratio (1.4.3)."""
    faint = []
    for found in page.evaluate(_TEXTS):
        large = found["size"] >= LARGE_PX or (found["size"] >= LARGE_BOLD_PX and found["weight"] >= BOLD)
        ratio = contrast(found["colour"], found["ground"])
        if ratio < (LARGE_TEXT_LEAST if large else TEXT_LEAST):
            faint.append(f"{ratio:.2f} {found['text'][:60]}")
    return faint


def faint_parts(page) -> list[str]:
    """Return the buttons and fields that neither edge nor filling sets off from what is around them (1.4.11)."""
    faint = []
    for found in page.evaluate(_PARTS):
        shown = [colour for colour in (found["edge"], found["ground"]) if colour is not None]
        ratio = max(contrast(colour, found["around"]) for colour in shown)
        if ratio < PART_LEAST:
            faint.append(f"{ratio:.2f} {found['what']}")
    return faint


def small_targets(page) -> list[str]:
    """Return the buttons and fields too small to hit (2.5.8)."""
    return [
        found["what"] for found in page.evaluate(_PARTS) if min(found["width"], found["height"]) < LEAST_TARGET_PX
    ]


def unnamed_controls(page) -> list[str]:
    """Return the controls that the browser itself can give a screen reader no name for (4.1.2)."""
    session = page.context.new_cdp_session(page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    session.detach()
    roles = {"button", "link", "textbox", "combobox", "radio", "checkbox", "switch", "slider", "spinbutton"}
    return [
        str(node.get("backendDOMNodeId"))
        for node in nodes
        if not node.get("ignored")
        and node.get("role", {}).get("value") in roles
        and not node.get("name", {}).get("value", "").strip()
    ]


def walk_by_tab(page) -> Walk:
    """Press Tab from the page's start until it comes round again (2.1.1, 2.4.7)."""
    page.evaluate("() => document.activeElement?.blur()")
    to_reach = page.evaluate(_TO_REACH)
    visited: dict[int, dict] = {}
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        at = page.evaluate(_FOCUSED)
        if at is None or at["place"] in visited:
            if len(visited) >= len({found["group"] or found["place"] for found in to_reach}):
                break
            continue
        visited[at["place"]] = at
    groups = {at["group"] for at in visited.values() if at["group"]}
    return Walk(
        visited=[at["what"] for at in visited.values()],
        unreached=[
            found["what"] for found in to_reach if found["place"] not in visited and found["group"] not in groups
        ],
        unseen=[
            at["what"]
            for at in visited.values()
            if at["outline"] is None or contrast(at["outline"], at["around"]) < PART_LEAST
        ],
    )
