"""The stop signs of a sheet: three tiers, each with the number to ring. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reportlab.lib.colors import black, white
from reportlab.platypus import Flowable, Spacer

from plans.sheet_language import SheetWords
from plans.sheet_setting import BAND, Setting, Stack, columns, height_of, paragraph, text_width
from plans.stop_signs import TierWords


@dataclass(frozen=True)
class SheetTier:
    """One tier of stop signs with the number to ring."""

    words: TierWords
    telephone: str


def stop_sign_blocks(
    tiers: Sequence[SheetTier], words: SheetWords, setting: Setting, width: float, height: float
) -> list[Flowable]:
    """Return the heading and the tiers, none split over pages, on one page where that can be.

    Lengths are in points, of what a page leaves for its content.
    """
    usual = _blocks(tiers, words, setting, width, height)
    closer = _blocks(tiers, words, replace(setting, tight=True), width, height)
    fitting = (blocks for blocks in (usual, closer) if height_of(blocks, width) <= height)
    return next(fitting, usual)


def _blocks(
    tiers: Sequence[SheetTier], words: SheetWords, setting: Setting, width: float, height: float
) -> list[Flowable]:
    first, *others = (
        _tier(tier, words, setting, width, height, place) for place, tier in enumerate(tiers)
    )
    opening = Stack(
        [
            paragraph(words.stop_heading, setting.style(1.5, bold=True)),
            Spacer(0, setting.gap * 0.5),
            paragraph(words.nobody_watches, setting.style()),
            Spacer(0, setting.gap * 2),
            first,
        ],
        tallest=height,
        bookmark=words.stop_heading,
    )
    story: list[Flowable] = [opening]
    for block in others:
        story += [Spacer(0, setting.gap * 2), block]
    return story


def _tier(
    tier: SheetTier, words: SheetWords, setting: Setting, width: float, height: float, place: int
) -> Stack:
    """Return one tier in a frame: heading and number to ring on a band, the most urgent darkest."""
    ink, band = ((white, black), (black, BAND), (black, None))[min(place, 2)]
    title = setting.style(1.25, bold=True, textColor=ink)
    ring = words.ring.format(number=tier.telephone) if tier.telephone else ""
    if place == 2:  # it can wait: the number stands there, but nobody is told to ring it
        ring = tier.telephone
    pad = setting.gap * 1.4
    room = width - 2 * pad
    number_width = text_width(ring, title) + setting.size if ring else 0
    if number_width > room / 2:  # one under the other
        head: Flowable = Stack(
            [paragraph(tier.words.heading, title), paragraph(ring, title)], tallest=height
        )
    else:
        head = columns(
            [paragraph(tier.words.heading, title), paragraph(ring, title)],
            [room - number_width, number_width],
        )
    hanging = setting.style(leftIndent=setting.size * 1.2)
    signs = [paragraph(sign, hanging, bullet="•") for sign in tier.words.signs]
    body = [
        paragraph(tier.words.do, setting.style(bold=True)),
        Spacer(0, setting.gap * 0.7),
        *signs,
    ]
    return Stack(
        [
            Stack([head], tallest=height, pad=pad, fill=band),
            Stack(body, tallest=height, pad=pad),
        ],
        tallest=height,
        edge=(2.4, 1.2, 0.6)[min(place, 2)],
    )
