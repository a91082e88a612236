"""Sharpness, brightness and likeness, against scipy and against what they are for."""

from __future__ import annotations

import random

import numpy as np
import pytest
from scipy import fft, ndimage

from orchard.science import pictures


def noise(width, height, seed=7) -> np.ndarray:
    """Noise whose waves weaken with their fineness, as those of scenes do: 1/f (Field
    1987, J. Opt. Soc. Am. A 4:2379-2394, from memory)."""
    rng = np.random.default_rng(seed)
    down, across = np.meshgrid(
        np.fft.fftfreq(height), np.fft.fftfreq(width), indexing="ij"
    )
    fineness = np.hypot(down, across)
    fineness[0, 0] = 1
    waves = np.fft.fft2(rng.normal(size=(height, width))) / fineness
    scene = np.real(np.fft.ifft2(waves))
    scene = (scene - scene.min()) / (scene.max() - scene.min())
    return (scene * 255).astype(np.uint8)


@pytest.mark.parametrize(("width", "height"), [(3, 3), (5, 4), (64, 48)])
def test_sharpness_is_the_variance_of_scipys_laplacian(width, height):
    grey = noise(width, height)
    inner = ndimage.laplace(grey.astype(float))[1:-1, 1:-1]
    given = pictures.sharpness(grey.tobytes(), width, height)
    assert given == pytest.approx(float(np.var(inner)), abs=1e-9)


def test_a_blurred_picture_is_less_sharp():
    grey = noise(320, 240)
    values = [
        pictures.sharpness(blurred.astype(np.uint8).tobytes(), 320, 240)
        for blurred in (grey, *(ndimage.gaussian_filter(grey, s) for s in (1, 2, 4)))
    ]
    assert values == sorted(values, reverse=True)
    assert values[0] > 4 * values[2]


def test_brightness_is_the_mean_grey_level():
    assert pictures.brightness(bytes(12)) == 0
    assert pictures.brightness(b"\xff" * 12) == 1
    grey = noise(32, 24)
    given = pictures.brightness(grey.tobytes())
    assert given == pytest.approx(float(grey.mean()) / 255)


def test_likeness_is_told_from_scipys_cosine_transform():
    grey = noise(32, 32)
    waves = fft.dctn(grey.astype(float), type=2)[1:9, 1:9].T.ravel()
    bits = int("".join("1" if wave > np.median(waves) else "0" for wave in waves), 2)
    assert pictures.likeness(grey.tobytes()) % 2**64 == bits


def test_another_light_or_grain_changes_few_bits_and_another_scene_many():
    for seed in range(20):
        grey = noise(32, 32, seed).astype(float)
        rng = np.random.default_rng(seed)
        lighter = np.clip(grey * 0.8 + 40 + rng.normal(0, 2, grey.shape), 0, 255)
        one = pictures.likeness(grey.astype(np.uint8).tobytes())
        same = pictures.likeness(lighter.astype(np.uint8).tobytes())
        other = pictures.likeness(noise(32, 32, seed + 100).tobytes())
        assert pictures.bits_apart(one, same) <= 8
        assert pictures.bits_apart(one, other) > 12


def test_bits_are_counted_whatever_the_sign():
    rng = random.Random(7)
    for _ in range(200):
        one, other = (rng.randrange(-(2**63), 2**63) for _ in range(2))
        apart = bin((one % 2**64) ^ (other % 2**64)).count("1")
        assert pictures.bits_apart(one, other) == apart
    assert pictures.bits_apart(-1, 0) == 64
    assert -(2**63) <= pictures.likeness(noise(32, 32, 3).tobytes()) < 2**63


@pytest.mark.parametrize(
    "ask",
    [
        lambda: pictures.sharpness(bytes(8), 3, 3),
        lambda: pictures.sharpness(bytes(8), 2, 4),
        lambda: pictures.brightness(b""),
        lambda: pictures.likeness(bytes(1023)),
    ],
)
def test_what_is_no_picture_is_refused(ask):
    with pytest.raises(ValueError, match="grey levels"):
        ask()
