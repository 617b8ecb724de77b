"""What a page looks like to a glove and to an eye: boxes of controls, gaps between them, contrast of writing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

# A tick or a round choice is pressed by its label, so the label is measured in its place.
CONTROLS = """(within) => [...document.querySelectorAll(
    `${within} :is(a[href], button, summary, select, textarea, label:has(input), input:not([type=hidden]))`)]
  .filter((e) => !(e.matches("input") && e.closest("label")) && e.checkVisibility())
  .map((e) => {
    const box = e.getBoundingClientRect();
    const words = (e.innerText || e.getAttribute("aria-label") || e.name || e.tagName).trim().replace(/\\s+/g, " ");
    return [words, box.left + scrollX, box.top + scrollY, box.width, box.height];
  })
  .filter(([, , , wide, high]) => wide > 0 && high > 0)"""

# Every piece of writing that holds a digit, with its colour and the nearest ground that is painted under it.
NUMBERS = """() => {
  const ground = (e) => {
    for (let up = e; up; up = up.parentElement) {
      const colour = getComputedStyle(up).backgroundColor;
      if (!/, 0\\)$/.test(colour) && colour !== "transparent") return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const holder = walk.currentNode.parentElement;
    if (/\\d/.test(walk.currentNode.data) && holder.checkVisibility() && !holder.closest(".away, .skip, script"))
      found.push([walk.currentNode.data.trim(), getComputedStyle(holder).color, ground(holder)]);
  }
  for (const field of document.querySelectorAll("main input:not([type=hidden])"))
    if (field.checkVisibility() && !field.closest("label.pick"))
      found.push([field.name, getComputedStyle(field).color, ground(field)]);
  return found;
}"""


@dataclass(frozen=True)
class Box:
    words: str
    left: float
    top: float
    wide: float
    high: float

    def gap(self, other: Box) -> float:
        """The wider of the gaps sideways and up and down; below nought they lie on each other."""
        sideways = max(other.left - (self.left + self.wide), self.left - (other.left + other.wide))
        upright = max(other.top - (self.top + self.high), self.top - (other.top + other.high))
        return max(sideways, upright)


def controls(page: Page, within: str = "main") -> list[Box]:
    return [Box(*found) for found in page.evaluate(CONTROLS, within)]


def too_small(boxes: list[Box], least: float) -> list[str]:
    return [
        f"{box.words}: {box.wide:.1f} by {box.high:.1f} px" for box in boxes if min(box.wide, box.high) < least - 0.01
    ]


def too_close(boxes: list[Box], least: float) -> list[str]:
    return [
        f"{one.words} and {other.words}: {one.gap(other):.1f} px"
        for one, other in combinations(boxes, 2)
        if one.gap(other) < least - 0.01
    ]


def hard_to_read(page: Page, least: float) -> list[str]:
    """Numbers whose contrast to their ground is lower than this."""
    return [
        f"{words}: {ratio:.2f}"
        for words, colour, ground in page.evaluate(NUMBERS)
        if (ratio := contrast(colour, ground)) < least
    ]


def luminance(colour: str) -> float:
    """Relative luminance of rgb(…) as WCAG 2.2 defines it."""
    channels = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)
