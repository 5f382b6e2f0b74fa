"""Photos of the demo nursery, drawn: a small potted tree seen from each of the eight angles.

A tree is a handful of foliage pads round a bent trunk, placed once in space and turned for each angle, so that the
pictures of one tree agree with each other. What a tree suffers from shows: dull foliage and covers on the bark.
"""

import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from random import Random

from PIL import Image, ImageDraw, ImageFilter

WIDTH, HEIGHT, FINER = 640, 800, 2  # drawn twice as fine, then shrunk: smooth edges
BENCH_Y, POT_TOP_Y = 690, 590
QUALITY = 82
TURNED = {"front": 0.0, "right": 90.0, "back": 180.0, "left": 270.0}
CLOSE = {"trunk": (320, 560, 2.6), "pot": (320, 640, 2.0)}  # middle x, middle y, how much nearer
Colour = tuple[int, int, int]
Draw = ImageDraw.ImageDraw
Point = tuple[float, float]


@dataclass(frozen=True)
class Habit:
    """How a kind of tree looks: the marks its foliage is drawn with, its colours, its outline."""

    mark: str
    leaf: Colour
    bark: Colour
    outline: str = "pads"
    extra: Colour | None = None  # blossom or fruit


HABITS: dict[str, Habit] = {
    "Olea": Habit("leaf", (122, 140, 104), (128, 116, 98)),
    "Pinus": Habit("needle", (62, 98, 66), (112, 84, 62)),
    "Juniperus": Habit("dot", (84, 118, 92), (126, 86, 62)),
    "Taxus": Habit("needle", (44, 78, 48), (104, 66, 50)),
    "Acer": Habit("star", (158, 62, 46), (118, 104, 88)),
    "Camellia": Habit("leaf", (46, 92, 54), (122, 106, 88), extra=(206, 92, 118)),
    "Ilex": Habit("dot", (56, 96, 58), (118, 112, 98)),
    "Citrus": Habit("leaf", (70, 122, 58), (112, 100, 74), extra=(232, 196, 60)),
    "Thuja": Habit("dot", (92, 124, 64), (120, 82, 60), outline="cone"),
    "Picea": Habit("needle", (60, 100, 84), (110, 80, 62), outline="cone"),
}
POTS: dict[str, tuple[Colour, float, float]] = {  # colour, half width, height
    "oval, unglazed brown": ((124, 84, 62), 150, 78),
    "round, blue glaze": ((62, 92, 128), 112, 100),
    "rectangular, grey": ((122, 122, 118), 156, 74),
    "training box": ((158, 128, 88), 160, 92),
    "deep round, terracotta": ((178, 104, 72), 100, 108),
    "shallow oval, cream glaze": ((214, 202, 172), 164, 58),
}


@dataclass(frozen=True)
class Sitter:
    """The tree that is drawn; the same seed is the same tree. `ailing` from 0 (sound) to 1 (badly infested)."""

    genus: str
    pot: str
    size_class: int
    seed: int
    ailing: float = 0.0


@dataclass(frozen=True)
class Pad:
    """One cloud of foliage: where it hangs (x to the right, y upwards, z towards the viewer) and how wide it is."""

    x: float
    y: float
    z: float
    r: float


def photo(sitter: Sitter, angle: str) -> bytes:
    """A JPEG of 640 by 800 points from one of the eight angles."""
    image = ANGLES.get(angle, _side)(sitter, angle)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


@lru_cache(maxsize=64)
def signature(name: str) -> bytes:
    """A PNG of a name as a hand might draw it: one line that rises and falls with the letters."""
    image = Image.new("RGB", (400, 140), "white")
    draw, hand = ImageDraw.Draw(image), Random(name)
    x, points = 24.0, [(16.0, 90.0)]
    for letter in name:
        up = 44 if letter.isupper() else hand.choice((10, 14, 26))
        step = 330 / max(8, len(name))
        points += [(x, 92 - up), (x + step * 0.35, 92 + hand.randint(-4, 10)), (x + step * 0.6, 84)]
        x += step
    draw.line(points, fill=(28, 36, 70), width=3, joint="curve")
    draw.line([(40, 112), (x, 104)], fill=(28, 36, 70), width=2)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def _side(sitter: Sitter, angle: str) -> Image.Image:
    """From one of the four sides, with the measuring stick beside it."""
    fine = _wall(sitter.seed % 3).copy()
    draw = ImageDraw.Draw(fine)
    _stick(draw)
    _tree(draw, sitter, math.radians(TURNED.get(angle, 0.0)))
    return fine.resize((WIDTH, HEIGHT), Image.Resampling.BOX)


def _near(sitter: Sitter, angle: str) -> Image.Image:
    """Near the trunk or the pot: the picture from the front, cut out and made larger."""
    whole = _side(sitter, "front")
    x, y, nearer = CLOSE[angle]
    w, h = WIDTH / nearer, HEIGHT / nearer
    top = min(max(0.0, y - h / 2), HEIGHT - h)
    box = (x - w / 2, top, x + w / 2, top + h)
    return whole.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC, box=box)


def _above(sitter: Sitter, angle: str) -> Image.Image:
    """From above: the rim of the pot, the moss, and the pads over it."""
    fine = Image.new("RGB", (WIDTH * FINER, HEIGHT * FINER), (150, 132, 108))
    draw, hand, habit = ImageDraw.Draw(fine), Random(sitter.seed), _habit(sitter)
    for y in range(0, HEIGHT, 96):
        draw.line(_fine((0, y), (WIDTH, y + 8)), fill=(132, 114, 92), width=6)
    pot, half, _ = _pot(sitter)
    _oval(draw, 320, 400, half + 30, half * 0.8 + 30, pot)
    _oval(draw, 320, 400, half + 14, half * 0.8 + 14, (96, 84, 58))
    for pad in sorted(_pads(sitter), key=lambda pad: pad.y):
        _foliage(draw, habit, sitter, hand, (320 + pad.x, 400 - pad.z * 0.9), pad.r, pad.r * 0.9)
    return fine.resize((WIDTH, HEIGHT), Image.Resampling.BOX)


def _worst(sitter: Sitter, angle: str) -> Image.Image:
    """One twig from near: leaves, and the covers that sit on the bark of an ailing tree."""
    fine = _wall(sitter.seed % 3).filter(ImageFilter.GaussianBlur(8))
    draw, hand, habit = ImageDraw.Draw(fine), Random(sitter.seed + 7), _habit(sitter)
    twig = [(60 + 52 * i, 560 - 34 * i + 22 * math.sin(i * 0.9 + sitter.seed)) for i in range(11)]
    draw.line(_fine(*twig), fill=_shade(habit.bark, 0.85), width=44, joint="curve")
    draw.line(_fine(*((x, y - 5) for x, y in twig)), fill=_shade(habit.bark, 1.12), width=14, joint="curve")
    for x, y in twig[1:]:
        for side in (-1, 1):
            _foliage(draw, habit, sitter, hand, (x + 14, y + side * 78), 64, 50, size=3.4)
    for _ in range(round(46 * sitter.ailing)):
        x, y = hand.choice(twig)
        _cover(draw, x + hand.uniform(-26, 26), y + hand.uniform(-12, 12), hand.uniform(8, 14))
    return fine.resize((WIDTH, HEIGHT), Image.Resampling.BOX)


ANGLES: dict[str, Callable[[Sitter, str], Image.Image]] = {
    "trunk": _near, "pot": _near, "top": _above, "worst": _worst,
}  # fmt: skip


def _tree(draw: Draw, sitter: Sitter, turn: float) -> None:
    """Pot, moss, trunk, branches, and the pads from the back to the front."""
    hand, habit = Random(sitter.seed), _habit(sitter)
    _draw_pot(draw, sitter)
    pads = [_turned(pad, turn) for pad in _pads(sitter)]
    spine = _spine(sitter, turn)
    for start, end, width in zip(spine, spine[1:], (46, 38, 31, 25, 19, 14, 10), strict=False):
        draw.line(_fine(start, end), fill=habit.bark, width=width * FINER)
        _oval(draw, end[0], end[1], width * 0.48, width * 0.48, habit.bark)
        draw.line(_fine(_moved(start, -5), _moved(end, -4)), fill=_shade(habit.bark, 1.2), width=width // 2)
    for pad in pads:
        root = min(spine, key=lambda point: abs(point[1] - (POT_TOP_Y - pad.y) - 26))
        draw.line(_fine(root, (320 + pad.x, POT_TOP_Y - pad.y)), fill=_shade(habit.bark, 0.9), width=12)
    for pad in sorted(pads, key=lambda pad: pad.z):
        middle = (320 + pad.x, POT_TOP_Y - pad.y)
        _foliage(draw, habit, sitter, hand, middle, pad.r, pad.r * 0.56)
    for _ in range(round(26 * sitter.ailing)):
        x, y = hand.choice(spine[:5])
        _cover(draw, x + hand.uniform(-14, 14), y + hand.uniform(-20, 20), hand.uniform(3, 5))


def _foliage(
    draw: Draw,
    habit: Habit,
    sitter: Sitter,
    hand: Random,
    middle: Point,
    rx: float,
    ry: float,
    size: float = 1.0,
) -> None:
    """One cloud: a dark body below, and lighter marks towards the light from the upper left."""
    tired = _tired(habit.leaf, sitter.ailing)
    _oval(draw, middle[0], middle[1] + ry * 0.16, rx * 0.86, ry * 0.8, _shade(tired, 0.62))
    marks = round(rx * ry / (22 * size))
    for _ in range(min(marks, 170)):
        around, out = hand.uniform(0, math.tau), math.sqrt(hand.random())
        x, y = middle[0] + rx * out * math.cos(around), middle[1] + ry * out * math.sin(around)
        light = 0.98 - 0.3 * (y - middle[1]) / ry - 0.12 * (x - middle[0]) / rx
        colour = _shade(tired, light * hand.uniform(0.86, 1.16))
        if habit.extra and hand.random() < 0.03:
            _oval(draw, x, y, 7 * size, 7 * size, habit.extra)
        else:
            MARKS[habit.mark](draw, x, y, around, size, colour)


def _needle(draw: Draw, x: float, y: float, around: float, size: float, colour: Colour) -> None:
    for turn in (-0.5, 0.0, 0.5):
        tip = (x + 15 * size * math.cos(around + turn), y - abs(15 * size * math.sin(around + turn)) - 2)
        draw.line(_fine((x, y), tip), fill=colour, width=3)


def _leaf(draw: Draw, x: float, y: float, around: float, size: float, colour: Colour) -> None:
    dx, dy = 11 * size * math.cos(around), 11 * size * math.sin(around)
    nx, ny = -dy * 0.34, dx * 0.34
    points = [(x - dx, y - dy), (x + nx, y + ny), (x + dx, y + dy), (x - nx, y - ny)]
    draw.polygon(_fine(*points), fill=colour)


def _dot(draw: Draw, x: float, y: float, around: float, size: float, colour: Colour) -> None:
    _oval(draw, x, y, 6.5 * size, 5 * size, colour)


def _star(draw: Draw, x: float, y: float, around: float, size: float, colour: Colour) -> None:
    points = []
    for i in range(10):
        reach = (12 if i % 2 == 0 else 4) * size
        points.append(
            (x + reach * math.cos(around + i * math.pi / 5), y + reach * math.sin(around + i * math.pi / 5))
        )
    draw.polygon(_fine(*points), fill=colour)


MARKS = {"needle": _needle, "leaf": _leaf, "dot": _dot, "star": _star}


def _cover(draw: Draw, x: float, y: float, r: float) -> None:
    """The cover of one scale insect: a brown hump with a light edge."""
    _oval(draw, x, y, r * 1.25, r, (70, 42, 28))
    _oval(draw, x - r * 0.3, y - r * 0.35, r * 0.5, r * 0.34, (142, 102, 74))


def _pads(sitter: Sitter) -> list[Pad]:
    """Where the foliage of this tree hangs, in space; larger classes have more of it."""
    hand, tall = Random(sitter.seed), 260 + 46 * sitter.size_class
    number = 5 + sitter.size_class
    pads = []
    for i in range(number):
        up = i / (number - 1)
        narrow = 1 - 0.82 * up if _habit(sitter).outline == "cone" else 1 - 0.5 * up
        around, out = i * 2.4 + hand.uniform(-0.4, 0.4), (46 + 74 * narrow) * (0.25 if i == number - 1 else 1)
        lean = _lean(sitter) * up
        pads.append(
            Pad(
                out * math.cos(around) + lean,
                tall * (0.34 + 0.62 * up),
                out * math.sin(around),
                (62 + 8 * sitter.size_class) * (0.62 + 0.42 * narrow) * hand.uniform(0.9, 1.1),
            )
        )
    return pads


def _spine(sitter: Sitter, turn: float) -> list[Point]:
    """The trunk from the soil to the top, as the viewer sees it."""
    tall = (260 + 46 * sitter.size_class) * 0.9
    bend, lean = 26 + sitter.seed % 22, _lean(sitter)
    points = []
    for i in range(8):
        up = i / 7
        aside = bend * math.sin(up * 4.2 + sitter.seed) - bend * math.sin(sitter.seed) + lean * up
        points.append((320 + aside * math.cos(turn), POT_TOP_Y - tall * up))
    return points


def _lean(sitter: Sitter) -> float:
    return 0.0 if _habit(sitter).outline == "cone" else (sitter.seed % 7 - 3) * 14.0


def _turned(pad: Pad, turn: float) -> Pad:
    return Pad(
        pad.x * math.cos(turn) - pad.z * math.sin(turn),
        pad.y,
        pad.x * math.sin(turn) + pad.z * math.cos(turn),
        pad.r,
    )


def _draw_pot(draw: Draw, sitter: Sitter) -> None:
    colour, half, high = _pot(sitter)
    top, foot = POT_TOP_Y + 2, POT_TOP_Y + high
    _oval(draw, 320, BENCH_Y + 4, half * 1.08, 14, (104, 88, 70))
    sides = [(320 - half, top), (320 + half, top), (320 + half * 0.84, foot), (320 - half * 0.84, foot)]
    draw.polygon(_fine(*sides), fill=colour)
    light = [
        (320 - half * 0.92, top),
        (320 - half * 0.6, top),
        (320 - half * 0.52, foot),
        (320 - half * 0.78, foot),
    ]
    draw.polygon(_fine(*light), fill=_shade(colour, 1.16))
    for x in (-0.7, 0.5):
        draw.rectangle(
            _fine((320 + half * x, foot - 2), (320 + half * (x + 0.2), BENCH_Y)), fill=_shade(colour, 0.7)
        )
    draw.rectangle(_fine((320 - half - 8, top - 10), (320 + half + 8, top + 10)), fill=_shade(colour, 0.86))
    _oval(draw, 320, top - 8, half * 0.92, 16, (88, 98, 54))


def _stick(draw: Draw) -> None:
    """The measuring stick, a mark every ten points."""
    draw.rectangle(_fine((52, 150), (70, BENCH_Y)), fill=(226, 208, 152))
    for step, y in enumerate(range(BENCH_Y, 150, -15)):
        draw.line(_fine((52, y), (62 if step % 5 else 70, y)), fill=(60, 52, 40), width=2)


@lru_cache(maxsize=3)
def _wall(tone: int) -> Image.Image:
    """What stands behind: a lime-washed wall, and the boards of the bench."""
    top, foot = ((226, 224, 212), (208, 206, 190)) if tone else ((214, 222, 220), (196, 206, 200))
    column = Image.new("RGB", (1, BENCH_Y))
    for y in range(BENCH_Y):
        part = y / BENCH_Y
        column.putpixel((0, y), tuple(round(a + (b - a) * part) for a, b in zip(top, foot, strict=True)))
    image = Image.new("RGB", (WIDTH * FINER, HEIGHT * FINER), (142, 122, 98))
    image.paste(column.resize((WIDTH * FINER, BENCH_Y * FINER)), (0, 0))
    draw = ImageDraw.Draw(image)
    for y in (BENCH_Y, BENCH_Y + 38, BENCH_Y + 80):
        draw.line(_fine((0, y), (WIDTH, y)), fill=(116, 98, 78), width=5)
    return image


def _habit(sitter: Sitter) -> Habit:
    return HABITS.get(sitter.genus, HABITS["Ilex"])


def _pot(sitter: Sitter) -> tuple[Colour, float, float]:
    colour, half, high = POTS.get(sitter.pot, POTS["oval, unglazed brown"])
    scale = 0.76 + 0.08 * sitter.size_class
    return colour, half * scale, min(high * scale, BENCH_Y - POT_TOP_Y - 8)


def _tired(colour: Colour, ailing: float) -> Colour:
    """Foliage of an ailing tree is duller and yellower."""
    dull = (168, 152, 84)
    red, green, blue = (round(a + (b - a) * ailing * 0.55) for a, b in zip(colour, dull, strict=True))
    return red, green, blue


def _shade(colour: Colour, by: float) -> Colour:
    red, green, blue = (max(0, min(255, round(part * by))) for part in colour)
    return red, green, blue


def _oval(draw: Draw, x: float, y: float, rx: float, ry: float, colour: Colour) -> None:
    draw.ellipse(_fine((x - rx, y - ry), (x + rx, y + ry)), fill=colour)


def _moved(point: Point, dx: float) -> Point:
    return point[0] + dx, point[1]


def _fine(*points: Point) -> list[Point]:
    return [(x * FINER, y * FINER) for x, y in points]
