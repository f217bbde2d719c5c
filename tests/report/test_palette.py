"""Colours held to published rules.

Contrast after WCAG 2.2 (W3C, success criteria 1.4.3 and 1.4.11). Colour blindness after Machado,
Oliveira and Fernandes (2009, IEEE TVCG 15(6)); their matrices for full deficiency are recalled from
memory, as is the sRGB transfer function (IEC 61966-2-1).
"""

import itertools

import numpy as np
import pytest

from tapertread.limits.verdicts import Word
from tapertread.report.palette import DARK, LIGHT, MARKS, picture_css, theme_css

TEXT_ROLES = [r for r in LIGHT if r not in ("paper", "panel", "grid", "design")]
MACHADO = {
    "protan": """0.152286 1.052583 -0.204868  0.114503 0.786281 0.099216
                 -0.003882 -0.048116 1.051998""",
    "deutan": """0.367322 0.860646 -0.227968  0.280085 0.672501 0.047413
                 -0.011820 0.042940 0.968881""",
    "tritan": """1.255528 -0.076749 -0.178779  -0.078411 0.930809 0.147602
                 0.004733 0.691367 0.303900""",
}
TO_XYZ = "0.4124 0.3576 0.1805  0.2126 0.7152 0.0722  0.0193 0.1192 0.9505"


def matrix(text):
    return np.array(text.split(), dtype=float).reshape(3, 3)


def seen(kind, colour):
    """L*a*b* of a colour as somebody with that deficiency sees it."""
    return lab(np.clip(matrix(MACHADO[kind]) @ linear(colour), 0, 1))


def linear(colour):
    share = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def luminance(colour):
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(a, b):
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def lab(rgb):
    """CIE L*a*b* of linear sRGB, white D65."""
    xyz = matrix(TO_XYZ) @ rgb
    share = xyz / [0.9505, 1.0, 1.089]
    f = np.where(share > 0.008856, np.cbrt(np.abs(share)), 7.787 * share + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_contrast_measure_knows_black_on_white():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "panel"])
@pytest.mark.parametrize("role", TEXT_ROLES)
def test_words_are_readable(theme, ground, role):
    assert contrast(theme[role], theme[ground]) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_dashed_designs_can_be_seen(theme):
    assert contrast(theme["design"], theme["panel"]) >= 3.0


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("kind", MACHADO)
def test_wheel_and_rail_stay_apart_for_the_colour_blind(theme, kind):
    """A difference of 10 in L*a*b* is plain to see side by side (common practice, no source)."""
    wheel, rail = (seen(kind, theme[role]) for role in ("wheel", "rail"))
    assert np.linalg.norm(wheel - rail) > 10.0


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("kind", MACHADO)
@pytest.mark.parametrize("bad", [Word.OUT, Word.ACT])
def test_good_and_bad_stay_apart_for_the_colour_blind(theme, kind, bad):
    good_seen, bad_seen = (seen(kind, theme[MARKS[w].role]) for w in (Word.SOUND, bad))
    assert np.linalg.norm(good_seen - bad_seen) > 10.0


def test_words_differ_in_shape_as_well():
    assert set(MARKS) == set(Word)
    for a, b in itertools.combinations(MARKS.values(), 2):
        assert a.path != b.path
        assert a.role != b.role


def test_themes_speak_of_the_same_roles():
    assert set(LIGHT) == set(DARK)
    for role in LIGHT:
        assert f"--{role}:" in theme_css(DARK)
        assert f".f-{role}{{" in picture_css()
        assert f".s-{role}{{" in picture_css()
